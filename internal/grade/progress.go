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

// daysOf puts results together by their days, in the order of these; what has no day comes last. What was not judged, for
// want of limits, says nothing of the day.
func daysOf(results []PastResult) []Day {
	days := []Day{}
	counts, sums := map[string]*Counts{}, map[string]float64{}
	for _, r := range results {
		if r.Result == "" {
			continue
		}
		if counts[r.Date] == nil {
			counts[r.Date] = &Counts{}
			days = append(days, Day{Date: r.Date})
		}
		counts[r.Date].take(r.Result)
		if r.Result != record.NotMeasured {
			sums[r.Date] += r.Score
		}
	}
	for i, d := range days {
		c := counts[d.Date]
		days[i].Yield, days[i].Crimps = yieldOf(*c), c.Judged()+c.NotMeasured
		if judged := c.Judged(); judged > 0 {
			days[i].Score = sums[d.Date] / float64(judged)
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

// Conform is how many conform of those measured and judged.
func (d Day) Conform() string {
	if !d.Yield.Proven {
		return "-"
	}
	return fmt.Sprintf("%d of %d", d.Yield.Conforming, d.Yield.Of)
}

// known are the days that have a share to show.
func known(days []Day) []Day {
	return slices.DeleteFunc(slices.Clone(days), func(d Day) bool { return d.Date == "" || !d.Yield.Proven })
}

// ProgressWords says whether the yield changed from the first day to the last. It claims a change only where the two
// intervals leave each other out, which is a strict test; days without a crimp that is proven either way say nothing.
func (t Trainee) ProgressWords() string {
	days := known(t.Days)
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
