package grade

import (
	"context"
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

func gradedWith(t testing.TB, w *workshop, o Options) Report {
	r, err := Of(context.Background(), w, o)
	require.NoError(t, err)
	return r
}

// remembering gives the same crimps whoever asks.
func remembering(all ...PastResult) Past {
	return func(context.Context, string) ([]PastResult, error) { return all, nil }
}

// TestProgress: from what is remembered, by days.
func TestProgress(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", times(20, good)...)
	past := func(_ context.Context, name string) ([]PastResult, error) {
		assert.Equal(t, "a", name)
		var all []PastResult
		for range 20 {
			all = append(all, pastOn("2026-05-04", yes, 90), pastOn("2026-04-27", no, 30))
		}
		return append(all, pastOn("2026-04-27", record.NotMeasured, 0), pastOn("", yes, 80), pastOn("2026-01-01", "", 0)), nil
	}
	one := gradedWith(t, w, Options{Mark: UsualMark, Past: past}).Trainees[0]
	require.Len(t, one.Days, 3, "the crimp that was not judged says nothing of its day")
	assert.Equal(t, []string{"2026-04-27", "2026-05-04", ""}, []string{one.Days[0].Date, one.Days[1].Date, one.Days[2].Date})
	assert.Equal(t, []int{21, 20, 0}, []int{one.Days[0].Crimps, one.Days[0].Yield.Of, one.Days[0].Yield.Conforming})
	assert.Equal(t, 30.0, one.Days[0].Score)
	assert.Equal(t, "Of the crimps of 2026-04-27 0 of 20 conform, of those of 2026-05-04 20 of 20: the yield rose; by chance alone so large a difference "+
		"is rare (p < 0.001). The test is Fisher's exact one, two-sided.", one.ProgressWords())
	assert.Empty(t, graded(t, w, UsualMark).Trainees[0].ProgressWords(), "one day is no progress")

	_, err := Of(context.Background(), w, Options{Past: func(context.Context, string) ([]PastResult, error) { return nil, errors.New("the disk is gone") }})
	assert.ErrorContains(t, err, "the disk is gone")
}

// TestChange: what few crimps can tell and what not. The p are those of scipy 1.10.1, stats.fisher_exact. Five of five and then
// none of five is a change though their 95 % intervals overlap (48 to 100 % and 0 to 52 %).
func TestChange(t *testing.T) {
	day := func(date string, conforming, of int) Day {
		return Day{Date: date, Yield: yieldOf(Counts{Conforming: conforming, NotConform: of - conforming})}
	}
	c := changeOf([]Day{day("2026-04-27", 5, 5), day("2026-05-04", 0, 5)})
	assert.InDelta(t, 0.007936507937, c.P, 1e-11)
	assert.Contains(t, c.Words(), "Of the crimps of 2026-04-27 5 of 5 conform, of those of 2026-05-04 0 of 5: the yield fell; by chance alone so large a difference is rare (p = 0.0079).")
	c = changeOf([]Day{day("2026-04-27", 2, 5), day("2026-05-04", 5, 5)})
	assert.InDelta(t, 0.1666666667, c.P, 1e-10)
	assert.Contains(t, c.Words(), "that may be chance (p = 0.17; a change is claimed below 0.05).")
	c = changeOf([]Day{day("2026-04-20", 1, 5), day("2026-04-27", 0, 6), day("2026-05-04", 4, 6), day("2026-05-11", 5, 6)})
	assert.Equal(t, Change{Span{"2026-04-20", "2026-04-27", 1, 11}, Span{"2026-05-04", "2026-05-11", 9, 12}, c.P, true}, *c)
	assert.InDelta(t, 0.002759456185, c.P, 1e-11)
	assert.Contains(t, c.Words(), "from 2026-04-20 to 2026-04-27 1 of 11 conform, of those from 2026-05-04 to 2026-05-11 9 of 12: the yield rose")
	c = changeOf([]Day{day("1", 1, 1), day("2", 1, 1), day("3", 0, 1)})
	assert.Equal(t, []string{"1", "1", "2", "3"}, []string{c.Earlier.From, c.Earlier.To, c.Later.From, c.Later.To}, "the middle day is one of the later ones")
	assert.Equal(t, "Of the crimps of 1 2 of 2 conform, of those of 2 3 of 3: the same share.", changeOf([]Day{day("1", 2, 2), day("2", 3, 3)}).Words())
	assert.Nil(t, changeOf(nil))
	assert.NotContains(t, FewCrimps(), "do not tell the two apart")
}

// TestProgressCountsEarlierCrimps and names them: they are not among the crimps on top of the sheet.
func TestProgressCountsEarlierCrimps(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", good, good, lost)
	for i, sum := range []string{"11", "22", ""} {
		w.crimps[i].Pictures[0].SHA256 = sum
	}
	here := func(sum, name string) PastResult {
		return PastResult{Date: "2026-05-04", Result: yes, Score: 90, Crimp: name, SHA256: sum}
	}
	gone := PastResult{Date: "2026-05-04", Result: no, Score: 20, Crimp: "a / 06", SHA256: "66"}
	unread := PastResult{Date: "2026-05-04", Result: record.NotMeasured, Crimp: "a / 03"}
	w.crimps[0].Label.Crimp = "called otherwise since"
	one := gradedWith(t, w, Options{Mark: UsualMark, Past: remembering(here("11", "a / 01"), here("22", "a / 02"), gone, unread)}).Trainees[0]
	assert.Equal(t, []Earlier{{"a / 06", "2026-05-04", no}}, one.Earlier)
	assert.Equal(t, 4, one.Days[0].Crimps)
	const words = "Counted by day is also 1 crimp that the history knows from earlier scans and that no picture of this call shows: a / 06 (2026-05-04)."
	assert.Equal(t, words, one.ProgressWords())
	assert.Contains(t, one.Words(UsualMark), "These pictures show only 3 crimps. To count on from earlier ones, name their folders in the same call.")

	one = gradedWith(t, w, Options{Mark: UsualMark, Past: remembering(here("11", "a / 01"))}).Trainees[0]
	assert.Equal(t, 2, one.Days[0].Crimps, "a crimp that the history has under no trainee counts too")
	assert.Empty(t, one.Earlier)
	dir := t.TempDir()
	r := gradedWith(t, w, Options{Mark: UsualMark, Past: remembering(gone)})
	require.NoError(t, Write(dir, workshopInfo(), r))
	assert.Contains(t, text(read(t, dir, "01.html")), words)
	assert.Contains(t, read(t, dir, "grade.json"), `"progress_counts_also"`)
}

// limited says that a file judged the pictures of these crimps.
func (w *workshop) limited(hash string, crimps ...int) {
	for _, n := range crimps {
		w.change(n, func(c *site.Crimp) { c.Pictures[0].Tolerances = hash })
	}
}
