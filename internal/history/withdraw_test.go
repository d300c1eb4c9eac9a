package history

import (
	"context"
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

func pull(newton float64, when string) site.Elsewhere {
	return site.Elsewhere{Key: elsewhere.PullOutForce, Value: record.Value{Value: newton, U: 5, Unit: "N"}, Who: "crew A", When: when}
}

// A value that was entered wrongly no longer counts, and stays.
func TestWithdraw(t *testing.T) {
	ctx, now := context.Background(), day(20)
	h := at(t, &now)
	crimp := site.Label{String: "S07", Crimp: "04"}
	require.NoError(t, h.AddElsewhere(ctx, crimp, pull(32, "2026-11-19")))
	require.NoError(t, h.AddElsewhere(ctx, crimp, pull(320, "2026-11-19")))
	now = day(21)
	require.NoError(t, h.Withdraw(ctx, 1, "trainer", "typing error"))
	require.ErrorIs(t, h.Withdraw(ctx, 1, "trainer", "again"), ErrWithdrawn)
	assert.Error(t, h.Withdraw(ctx, 99, "trainer", "no such value"))

	values, err := h.Elsewhere(ctx, crimp, "")
	require.NoError(t, err)
	require.Len(t, values, 2)
	assert.Equal(t, []string{"withdrawn by trainer on 2026-11-21: typing error", ""}, []string{values[0].Withdrawn, values[1].Withdrawn})
	value, found, err := h.Value(ctx, 1)
	require.NoError(t, err)
	assert.True(t, found)
	assert.Equal(t, Value{crimp, values[0]}, value)
	_, found, err = h.Value(ctx, 99)
	require.NoError(t, err)
	assert.False(t, found)

	for _, change := range []string{`UPDATE withdrawals SET note = 'no'`, `DELETE FROM withdrawals`} {
		_, err := h.write.Exec(change)
		assert.ErrorContains(t, err, "withdrawals are never")
	}
	var rows []any
	require.NoError(t, h.Dump(ctx, func(row any) error {
		if w, ok := row.(DumpedWithdrawal); ok {
			rows = append(rows, w)
		}
		return nil
	}))
	require.Len(t, rows, 1)
	line, err := json.Marshal(rows[0])
	require.NoError(t, err)
	assert.JSONEq(t, `{"kind":"withdrawal","elsewhere":1,"who":"trainer","note":"typing error","added":"2026-11-21T12:00:00Z"}`, string(line))
}

// A history of the first layout is brought up to date, with all that is in it.
func TestFromTheFirstLayout(t *testing.T) {
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "site-history.db")
	h := open(t, path)
	id := begin(t, h, someEntries(1))
	require.NoError(t, h.Settle(ctx, id, outcomeOf(0)))
	require.NoError(t, h.AddElsewhere(ctx, site.Label{Crimp: "1"}, pull(320, "2026-11-19")))
	migrations, _, err := h.migrations()
	require.NoError(t, err)
	_, err = h.write.Exec(`DROP TABLE withdrawals; DROP TABLE looks; DROP TABLE alike; ALTER TABLE elsewhere DROP COLUMN made; ALTER TABLE elsewhere DROP COLUMN source; DELETE FROM goose_db_version WHERE version_id > 1`)
	require.NoError(t, err)
	require.NoError(t, h.Close())
	require.Len(t, migrations.ListSources(), 5, "tell here what a later migration adds")

	assert.Contains(t, openError(t, path, Options{ReadOnly: true}), "its layout is an older one (1, not 5)")
	h = open(t, path)
	require.NoError(t, h.Withdraw(ctx, 1, "crew A", "typing error"))
	values, err := h.Elsewhere(ctx, site.Label{Crimp: "1"}, "")
	require.NoError(t, err)
	require.Len(t, values, 1)
	assert.NotEmpty(t, values[0].Withdrawn)
	p, err := h.Picture(ctx, id, 0)
	require.NoError(t, err)
	assert.Equal(t, hash(0), p.SHA256)
}

// Neither what was withdrawn nor what was measured before the crimp was made is judged.
func TestJudgeLeavesOutWhatDoesNotCount(t *testing.T) {
	ctx, now := context.Background(), day(20)
	h := at(t, &now)
	limits := Tolerances{Hash: hash(9100), Name: "pull", File: "pull.yaml", Text: "limits: {bend: {max: 3 deg}}\nelsewhere: {pull_out_force: {min: 310 N}}\n"}
	require.NoError(t, h.KeepTolerances(ctx, limits))
	crimp := site.Label{String: "S07", Crimp: "04", Date: "2026-11-10"}
	for _, e := range []site.Elsewhere{pull(32, "2026-11-12"), pull(200, "2026-11-09"), pull(320, "2026-11-13")} {
		require.NoError(t, h.AddElsewhere(ctx, crimp, e))
	}
	settle := func(l site.Label) (record.Result, int) {
		s := Standing{Crimp: site.Crimp{Label: l}, Wanted: []string{limits.Hash}}
		var err error
		s.Crimp.Elsewhere, err = h.Elsewhere(ctx, l, "")
		require.NoError(t, err)
		require.NoError(t, h.NewJudge().Settle(ctx, &s))
		require.NotNil(t, s.Crimp.ElsewhereVerdict)
		return s.Crimp.Result, len(s.Crimp.ElsewhereVerdict.Features)
	}
	told := func(result record.Result, judged int) []any { return []any{result, judged} }
	assert.Equal(t, []any{record.DoesNotConform, 2}, told(settle(crimp)))
	require.NoError(t, h.Withdraw(ctx, 1, "crew A", "typing error"))
	assert.Equal(t, []any{record.Conforms, 1}, told(settle(crimp)))
	crimp.Date = ""
	assert.Equal(t, []any{record.DoesNotConform, 2}, told(settle(crimp)), "where nobody knows when it was made, all values count")
}
