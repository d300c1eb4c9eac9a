package history

import (
	"context"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// Who loosens the limits is told what the stricter ones said of the very same picture, scan after scan.
func TestStricterLimitsAreRemembered(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	for i, name := range []string{"strict", "loose", "loosest"} {
		require.NoError(t, h.KeepTolerances(ctx, Tolerances{Hash: hash(7000 + i), Name: name, File: name + ".yaml"}))
	}
	judgedBy := func(source string, limits, bytes int, as record.Result) int64 {
		t.Helper()
		id, _, err := h.Begin(ctx, Scan{Source: source, Program: "v5"}, []Entry{{File: "a.jpg", Origin: site.Alone, Request: "{}", Tolerances: []string{hash(7000 + limits)}}})
		require.NoError(t, err)
		require.NoError(t, h.Settle(ctx, id, Outcome{SHA256: hash(bytes), Key: Key{hash(bytes), "v5", "{}"}, Record: judged(bytes, as), Tolerances: hash(7000 + limits)}))
		require.NoError(t, h.Finish(ctx, id))
		return id
	}
	said := func(scan int64) string {
		t.Helper()
		all, err := h.Stricter(ctx, scan)
		require.NoError(t, err)
		text := ""
		for position, s := range all {
			text += fmt.Sprintf("%d: %s by %s on %s", position, s.Result, s.Name, s.When.Format("01-02"))
		}
		return text
	}
	const bad = "0: does_not_conform by strict on 11-01"
	assert.Empty(t, said(judgedBy("/site", 0, 1, record.DoesNotConform)))
	now = day(2)
	assert.Equal(t, bad, said(judgedBy("/site", 1, 1, record.Conforms)))
	assert.Equal(t, bad, said(judgedBy("/site", 1, 1, record.Conforms)), "it is not forgotten the second time")
	assert.Empty(t, said(judgedBy("/site", 0, 1, record.DoesNotConform)), "the same limits")
	assert.Empty(t, said(judgedBy("/site", 1, 2, record.Conforms)), "another picture")
	assert.Empty(t, said(judgedBy("/shed", 1, 1, record.Conforms)), "another place")
	assert.Empty(t, said(judgedBy("/shed", 2, 1, record.DoesNotConform)), "stricter ones now")
}

// What the page calls not measured, the history does: a listed picture that is not there, and whose row has the limits in its
// own column, and one that no row names, beside pictures that are judged. Where nothing is judged, nothing is missed.
func TestWhatCameToNothingIsMissedWhereAnythingIsJudged(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	for judging, want := range map[bool]record.Result{true: record.NotMeasured, false: ""} {
		var limits []string
		if judging {
			limits = []string{demoTolerances.Hash}
		}
		id, _, err := h.Begin(ctx, Scan{Source: fmt.Sprint(judging), Program: "v5"}, []Entry{
			{Position: 0, File: "a.jpg", Label: crimpOf("A", "1"), Origin: site.FromManifest, Request: "{}", Tolerances: limits},
			{Position: 1, File: "gone.jpg", Label: crimpOf("A", "2"), Origin: site.FromManifest, Request: "{}"},
			{Position: 2, File: "unlisted.jpg", Origin: site.Alone, Request: "{}"},
			{Position: 3, File: "fine.jpg", Label: crimpOf("A", "4"), Origin: site.FromManifest, Request: "{}"}})
		require.NoError(t, err)
		good := Outcome{SHA256: hash(1), Key: Key{hash(1), "v5", "{}"}, Record: someRecord(1)}
		if judging {
			good.Record, good.Tolerances = judged(1, record.Conforms), demoTolerances.Hash
		}
		require.NoError(t, h.Settle(ctx, id, good))
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 1, Failure: "is named in the manifest and not there"}))
		refused := someRecord(2)
		refused.Refuse("no scale was declared")
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 2, SHA256: hash(2), Key: Key{hash(2), "v5", "{}"}, Record: refused}))
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 3, SHA256: hash(3), Key: Key{hash(3), "v5", "{}"}, Record: someRecord(3)}))
		require.NoError(t, h.Finish(ctx, id))
		judge := h.NewJudge()
		results := map[string]record.Result{}
		require.NoError(t, h.List(ctx, Filter{}, func(s Standing) error {
			if s.Source == fmt.Sprint(judging) {
				require.NoError(t, judge.Settle(ctx, &s))
				results[s.Crimp.Name()] = s.Crimp.Result
			}
			return nil
		}))
		first := record.Result("")
		if judging {
			first = record.Conforms
		}
		assert.Equal(t, map[string]record.Result{"A / 1": first, "A / 2": want, "unlisted.jpg": want, "A / 4": ""}, results, "judging: %t", judging)
	}
}
