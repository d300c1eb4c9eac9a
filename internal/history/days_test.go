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

// Of each day the latest scan that has it counts, whatever later scans have of other days; a crimp without a day is any.
func TestListTellsDaysApart(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	made := func(bytes int, crimp, date string) shot {
		return shot{fmt.Sprintf("%d.jpg", bytes), site.Label{Trainee: "trainee 3", Crimp: crimp, Date: date}, site.FromManifest, "", bytes, record.Conforms, float64(bytes)}
	}
	scanShots(t, h, "/workshop", made(1, "1", "2026-11-09"), made(2, "1", "2026-11-02"), made(3, "2", "2026-11-02"), made(4, "3", "2026-11-02"))
	scanShots(t, h, "/workshop", made(5, "1", "2026-11-09"), made(6, "2", "2026-11-09"), made(7, "3", ""))
	require.NoError(t, h.AddElsewhere(ctx, site.Label{Trainee: "trainee 3", Crimp: "1"}, pull(320, "2026-11-12")))
	assert.Equal(t, []string{
		"trainee 3 / 1: conforms 2, 1 pictures, 1 elsewhere, scan 1, 2026-11-01",
		"trainee 3 / 1: conforms 5, 1 pictures, 1 elsewhere, scan 2, 2026-11-01",
		"trainee 3 / 2: conforms 3, 1 pictures, 0 elsewhere, scan 1, 2026-11-01",
		"trainee 3 / 2: conforms 6, 1 pictures, 0 elsewhere, scan 2, 2026-11-01",
		"trainee 3 / 3: conforms 7, 1 pictures, 0 elsewhere, scan 2, 2026-11-01",
	}, listed(t, h, Filter{}))

	found, err := h.Named(ctx, "1", "", "trainee 3")
	require.NoError(t, err)
	require.Len(t, found, 2)
	story, err := h.Story(ctx, found[1])
	require.NoError(t, err)
	var told []string
	for _, m := range story.Measurements {
		told = append(told, fmt.Sprintf("%s, scan %d: %t", m.File, m.Counted(), m.Counts(found[1])))
	}
	assert.Equal(t, []string{"1.jpg, scan 1: false", "5.jpg, scan 2: true"}, told, "of that day, and only the latest counts")
}

// A failure counts until the view that was asked for is measured in another picture of the crimp.
func TestAFailureCountsUntilItIsTakenAgain(t *testing.T) {
	ctx, now := context.Background(), day(1)
	h := at(t, &now)
	for i, asked := range []record.View{record.Seam, record.Side} {
		label := site.Label{String: "S07", Crimp: fmt.Sprint(i)}
		id, _, err := h.Begin(ctx, Scan{Source: fmt.Sprint(i), Program: "v5"}, []Entry{
			{Position: 0, File: "cut.jpg", Label: label, Origin: site.FromName, Request: fmt.Sprintf(`{"view":%q}`, asked), Tolerances: []string{demoTolerances.Hash}},
			{Position: 1, File: "again.jpg", Label: label, Origin: site.FromName, Request: `{"view":"seam"}`, Tolerances: []string{demoTolerances.Hash}}})
		require.NoError(t, err)
		require.NoError(t, h.Settle(ctx, id, Outcome{Position: 0, SHA256: hash(50), Failure: "cut off"}))
		o := outcomeOf(i)
		o.Position = 1
		require.NoError(t, h.Settle(ctx, id, o))
		found, err := h.Named(ctx, fmt.Sprint(i), "S07", "")
		require.NoError(t, err)
		require.Len(t, found, 1)
		story, err := h.Story(ctx, found[0])
		require.NoError(t, err)
		require.Len(t, story.Failures, 1)
		counts := asked == record.Side // the side was not seen in the other one
		assert.Equal(t, counts, story.Failures[0].Counts(found[0]), asked)
		assert.Equal(t, map[bool]record.Result{true: record.NotMeasured, false: record.Conforms}[counts], found[0].Crimp.Result, asked)
	}
}
