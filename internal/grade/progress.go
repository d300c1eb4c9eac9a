package grade

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"crimprule/internal/statistics"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Past gives the crimps of a trainee over all scans that are remembered, this one too, each once.
type Past func(ctx context.Context, trainee string) ([]PastResult, error)

// PastResult is how a crimp came out. Date is YYYY-MM-DD.
type PastResult struct {
	Date   string
	Result record.Result
	Score  float64
	Crimp  string   // its name; empty where nobody named it
	SHA256 string   // of its first picture; empty where that could not be read
	Limits []Limits // that judged its pictures
}

// Day is how the crimps of one day came out; Score is the mean of Yield.Of crimps.
type Day struct {
	Date   string   `json:"date"` // YYYY-MM-DD; empty: unknown
	Crimps int      `json:"crimps"`
	Yield  Yield    `json:"yield"`
	Score  float64  `json:"score"`
	Limits []Limits `json:"judged_by,omitempty"`
}

// Earlier is a crimp that the progress counts and that is not among the present pictures.
type Earlier struct {
	Crimp  string        `json:"crimp"` // empty: nobody named it
	Date   string        `json:"date,omitempty"`
	Result record.Result `json:"result"`
}

// Change holds the crimps of the earlier days against those of the later ones. P is that of Fisher's exact test, two-sided,
// 0..1: how often chance alone would give shares that lie so far apart.
type Change struct {
	Earlier Span    `json:"earlier"`
	Later   Span    `json:"later"`
	P       float64 `json:"p"`
	Alike   bool    `json:"same_limits"` // both were judged by the same limits
}

// Span is some days one after the other, and how many of the crimps that were judged and measured conform.
type Span struct {
	From       string `json:"from"`
	To         string `json:"to"`
	Conforming int    `json:"conforming"`
	Of         int    `json:"of"`
}

// surelyChanged is the p from which on a change of the yield is not told from chance (usual in science, no source).
const surelyChanged = 0.05

// remember fills in the progress: the crimps at hand, and those that are remembered besides.
func (t *Trainee) remember(ctx context.Context, past Past) error {
	var results []PastResult
	if past != nil && t.Name != "" {
		var err error
		if results, err = past(ctx, t.Name); err != nil {
			return err
		}
	}
	some, remembered := len(results) > 0, map[string]bool{}
	for _, r := range results {
		remembered[r.SHA256] = true
		if r.Result != "" && !t.has(r) {
			t.Earlier = append(t.Earlier, Earlier{r.Crimp, r.Date, r.Result})
		}
	}
	for _, c := range t.Crimps {
		known := some && len(c.sums) == 0 || slices.ContainsFunc(c.sums, func(sum string) bool { return remembered[sum] })
		if !known {
			results = append(results, PastResult{Date: c.Date, Result: c.Result, Score: c.Score, Limits: c.limits})
		}
	}
	t.Days = daysOf(results)
	if t.Name != "" {
		t.Change = changeOf(known(t.Days))
	}
	return nil
}

// has tells whether a crimp that is remembered is among the present ones: by its picture's bytes or, where it has none, by
// its name.
func (t *Trainee) has(r PastResult) bool {
	return slices.ContainsFunc(t.Crimps, func(c Crimp) bool {
		if r.SHA256 != "" {
			return slices.Contains(c.sums, r.SHA256)
		}
		return r.Crimp == "" || c.Name == r.Crimp
	})
}

// daysOf puts results together by their days, in the order of these; what has no day comes last. What was not judged, for
// want of limits, says nothing of the day.
func daysOf(results []PastResult) []Day {
	days := []Day{}
	counts, sums, limits := map[string]*Counts{}, map[string]float64{}, map[string]*limitsSet{}
	for _, r := range results {
		if r.Result == "" {
			continue
		}
		if counts[r.Date] == nil {
			counts[r.Date], limits[r.Date] = &Counts{}, &limitsSet{}
			days = append(days, Day{Date: r.Date})
		}
		counts[r.Date].take(r.Result)
		limits[r.Date].add(r.Limits...)
		if r.Result != record.NotMeasured {
			sums[r.Date] += r.Score
		}
	}
	for i, d := range days {
		c := counts[d.Date]
		days[i].Yield, days[i].Crimps, days[i].Limits = yieldOf(*c), c.Judged()+c.NotMeasured, limits[d.Date].list()
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

// changeOf holds the earlier half of the days against the later one, to which the middle one of an odd number belongs; nil
// for less than two days.
func changeOf(days []Day) *Change {
	if len(days) < 2 {
		return nil
	}
	half := len(days) / 2
	c := Change{Earlier: spanOf(days[:half]), Later: spanOf(days[half:])}
	c.P = statistics.FisherExact(c.Earlier.Conforming, c.Earlier.Of, c.Later.Conforming, c.Later.Of)
	c.Alike = len(unlike(daySets(days))) == 0
	return &c
}

func spanOf(days []Day) Span {
	s := Span{From: days[0].Date, To: days[len(days)-1].Date}
	for _, d := range days {
		s.Conforming += d.Yield.Conforming
		s.Of += d.Yield.Of
	}
	return s
}

// words is the span with its crimps: "of 2026-03-02 2 of 5".
func (s Span) words() string {
	days := "from " + wording.Clean(s.From) + " to " + wording.Clean(s.To)
	if s.From == s.To {
		days = "of " + wording.Clean(s.From)
	}
	return fmt.Sprintf("%s %d of %d", days, s.Conforming, s.Of)
}

// Words says whether the yield changed, and how likely chance alone would make such a difference.
func (c Change) Words() string {
	text := fmt.Sprintf("Of the crimps %s conform, of those %s: ", c.Earlier.words(), c.Later.words())
	before, after := c.Earlier.Conforming*c.Later.Of, c.Later.Conforming*c.Earlier.Of // the shares, over one denominator
	if before == after {
		return text + "the same share."
	}
	p := fmt.Sprintf("p = %.2g", c.P)
	if c.P < 0.001 {
		p = "p < 0.001"
	}
	switch {
	case c.P >= surelyChanged:
		text += fmt.Sprintf("that may be chance (%s; a change is claimed below %g).", p, surelyChanged)
	case after > before:
		text += fmt.Sprintf("the yield rose; by chance alone so large a difference is rare (%s).", p)
	default:
		text += fmt.Sprintf("the yield fell; by chance alone so large a difference is rare (%s).", p)
	}
	return text + " The test is Fisher's exact one, two-sided."
}

// ProgressWords says whether the yield changed, which limits differ, and which crimps of earlier pictures are counted; empty
// where there is nothing to say. Days without a crimp that is proven either way say nothing.
func (t Trainee) ProgressWords() string {
	text := ""
	if t.Change != nil {
		text = t.Change.Words()
	}
	return join(text, t.LimitsOfDays(), t.EarlierWords())
}

// EarlierWords says which crimps the progress counts that are not among the present pictures; empty where there are none.
func (t Trainee) EarlierWords() string {
	if len(t.Earlier) == 0 {
		return ""
	}
	names := t.earlierNames()
	is := "are"
	if len(names) == 1 {
		is = "is"
	}
	return fmt.Sprintf("Counted by day %s also %s that the history knows from earlier scans and that no picture of this call shows: %s.",
		is, countOf(len(names), "crimp", "crimps"), someOf(names))
}

func (t Trainee) earlierNames() []string {
	var names []string
	for _, e := range t.Earlier {
		name := cmp.Or(e.Crimp, "one without a name")
		if e.Date != "" {
			name += " (" + e.Date + ")"
		}
		names = append(names, name)
	}
	return names
}
