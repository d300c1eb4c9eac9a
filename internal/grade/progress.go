package grade

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"crimprule/vision/record"
)

// Day is how the crimps of one day came out; Score is the mean of Yield.Of crimps.
type Day struct {
	Date   string  `json:"date"` // YYYY-MM-DD; empty: unknown
	Crimps int     `json:"crimps"`
	Yield  Yield   `json:"yield"`
	Score  float64 `json:"score"`
}

// remember fills in the progress: from what is remembered where there is something, else from the crimps at hand.
func (t *Trainee) remember(ctx context.Context, past Past) error {
	var results []PastResult
	if past != nil && t.Name != "" {
		var err error
		if results, err = past(ctx, t.Name); err != nil {
			return err
		}
	}
	if len(results) == 0 {
		for _, c := range t.Crimps {
			results = append(results, PastResult{c.Date, c.Result, c.Score})
		}
	}
	t.Days = daysOf(results)
	return nil
}

// daysOf puts results together by their days, in the order of these; what has no day comes last.
func daysOf(results []PastResult) []Day {
	days := []Day{}
	sums := map[string]float64{}
	for _, r := range results {
		i := slices.IndexFunc(days, func(d Day) bool { return d.Date == r.Date })
		if i < 0 {
			i = len(days)
			days = append(days, Day{Date: r.Date})
		}
		d := &days[i]
		d.Crimps++
		switch r.Result {
		case record.Conforms:
			d.Yield.Conforming++
			d.Yield.Of++
			sums[r.Date] += r.Score
		case record.DoesNotConform, record.NotProven:
			d.Yield.Of++
			sums[r.Date] += r.Score
		}
	}
	for i, d := range days {
		days[i].Yield = yieldOf(d.Yield.Conforming, d.Yield.Of)
		if d.Yield.Of > 0 {
			days[i].Score = sums[d.Date] / float64(d.Yield.Of)
		}
	}
	slices.SortStableFunc(days, func(a, b Day) int {
		if (a.Date == "") != (b.Date == "") {
			return len(b.Date) - len(a.Date)
		}
		return cmp.Compare(a.Date, b.Date)
	})
	return days
}

// ProgressWords says whether the yield changed from the first day to the last. It claims a change only where the two
// intervals leave each other out, which is a strict test; days without measured crimps say nothing.
func (t Trainee) ProgressWords() string {
	var days []Day
	for _, d := range t.Days {
		if d.Date != "" && d.Yield.Of > 0 {
			days = append(days, d)
		}
	}
	if len(days) < 2 {
		return ""
	}
	first, last := days[0], days[len(days)-1]
	span := fmt.Sprintf("from %s to %s", first.Date, last.Date)
	switch {
	case last.Yield.Low > first.Yield.High:
		return "The yield rose " + span + "."
	case last.Yield.High < first.Yield.Low:
		return "The yield fell " + span + "."
	}
	return "A change of the yield " + span + " cannot be told from chance with so few crimps."
}
