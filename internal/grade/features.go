package grade

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Good is a feature that conformed in every crimp in which it was judged. Score is the mean of the feature's points: how
// far inside its limits, and how near to its aim, it lay.
type Good struct {
	Name   string  `json:"name"`
	Crimps int     `json:"crimps"`
	Score  float64 `json:"score"`
}

// Fault is what went wrong in some crimps, or may have: features that mean the same for the crimp stand together.
type Fault struct {
	Names    []string        `json:"features"`
	Failed   int             `json:"failed"`     // crimps in which it was proven
	InDoubt  int             `json:"not_proven"` // further crimps in which it is open
	Means    string          `json:"means"`
	Causes   []string        `json:"causes,omitempty"`
	Exercise advice.Exercise `json:"exercise"`
}

// Title names the features.
func (f Fault) Title() string { return strings.Join(f.Names, "; ") }

// Words says in how many of the trainee's crimps it went wrong.
func (f Fault) Words(of int) string {
	crimps := countOf(of, "crimp", "crimps")
	switch {
	case f.Failed == 0:
		return fmt.Sprintf("Not proven in %d of %s.", f.InDoubt, crimps)
	case f.InDoubt == 0:
		return fmt.Sprintf("Fails in %d of %s.", f.Failed, crimps)
	}
	return fmt.Sprintf("Fails in %d of %s, not proven in %d more.", f.Failed, crimps, f.InDoubt)
}

// Cause is the cause that could explain the most crimps that do not conform; where none is proven bad, those that are not
// proven (InDoubt). It is what such faults usually come from, not what was seen.
type Cause struct {
	Text    string `json:"text"`
	Crimps  int    `json:"crimps"`
	Of      int    `json:"of"`
	InDoubt bool   `json:"in_doubt"`
}

// Practice is what to practise, and why.
type Practice struct {
	advice.Exercise
	Why string `json:"why"`
}

// features gathers the judged features of a trainee's crimps.
type features struct {
	all    []*feature // in the order in which they came up
	kinds  []*Fault   // likewise
	causes [2]tally   // of crimps that fail, and of those in doubt
}

// feature is one measurand in one view over all crimps.
type feature struct {
	view   record.View
	key    record.Key
	judged int
	good   int
	points float64
}

// tally counts in how many crimps a cause could be at work; rank adds up how far back it stands among the causes.
type tally struct {
	crimps int
	order  []string
	count  map[string]int
	rank   map[string]int
}

// judged is a feature with its view; Elsewhere features have none.
type judged struct {
	view record.View
	record.Feature
}

func judgedOf(c site.Crimp) []judged {
	var all []judged
	for _, p := range c.Pictures {
		if !p.Usable() || p.Record.Verdict == nil {
			continue
		}
		for _, f := range p.Record.Verdict.Features {
			all = append(all, judged{p.Record.View, f})
		}
	}
	if c.ElsewhereVerdict != nil {
		for _, f := range c.ElsewhereVerdict.Features {
			all = append(all, judged{"", f})
		}
	}
	return all
}

// advice says what the feature means if it is bad, whether that is proven or not.
func (j judged) advice() *record.Advice {
	f := j.Feature
	f.Result = record.DoesNotConform
	if j.view == "" {
		return advice.ForElsewhere(f)
	}
	return advice.For(j.view, f)
}

// take counts a crimp's features in, and gives the names of those that failed or are in doubt.
func (s *features) take(c site.Crimp) []string {
	var names []string
	var seen [2]map[string]bool // faults of this crimp: proven, in doubt
	var causes [2][]string
	all := judgedOf(c)
	slices.SortStableFunc(all, func(a, b judged) int { return doubt(a.Result) - doubt(b.Result) })
	for _, j := range all {
		s.of(j).take(j.Feature)
		d := doubt(j.Result)
		if d > 1 {
			continue
		}
		name, words := wording.Name(j.view, j.Key), j.advice()
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		fault := s.kind(words, name, advice.ExerciseFor(j.Key, advice.TooSmall(j.Feature)))
		if seen[0][words.Means] || seen[1][words.Means] {
			continue // told of this crimp already, with greater certainty
		}
		if seen[d] == nil {
			seen[d] = map[string]bool{}
		}
		seen[d][words.Means] = true
		causes[d] = append(causes[d], words.Causes...)
		if d == 0 {
			fault.Failed++
		} else {
			fault.InDoubt++
		}
	}
	for d := range causes {
		s.causes[d].take(causes[d])
	}
	return names
}

// doubt is 0 for what is proven bad, 1 for what is not proven, 2 for all else.
func doubt(r record.Result) int {
	switch r {
	case record.DoesNotConform:
		return 0
	case record.NotProven:
		return 1
	}
	return 2
}

func (s *features) of(j judged) *feature {
	for _, f := range s.all {
		if f.view == j.view && f.key == j.Key {
			return f
		}
	}
	f := &feature{view: j.view, key: j.Key}
	s.all = append(s.all, f)
	return f
}

func (f *feature) take(one record.Feature) {
	if one.Result == record.NotMeasured {
		return
	}
	f.judged++
	if one.Result == record.Conforms {
		f.good++
	}
	if one.Score != nil {
		f.points += *one.Score
	}
}

// kind finds the fault by what it means for the crimp.
func (s *features) kind(words *record.Advice, name string, exercise advice.Exercise) *Fault {
	for _, f := range s.kinds {
		if f.Means == words.Means {
			if !slices.Contains(f.Names, name) {
				f.Names = append(f.Names, name)
			}
			return f
		}
	}
	f := &Fault{Names: []string{name}, Means: words.Means, Causes: words.Causes, Exercise: exercise}
	s.kinds = append(s.kinds, f)
	return f
}

// take counts the causes of one crimp, each once.
func (t *tally) take(causes []string) {
	if len(causes) == 0 {
		return
	}
	if t.count == nil {
		t.count, t.rank = map[string]int{}, map[string]int{}
	}
	t.crimps++
	counted := map[string]bool{}
	for i, cause := range causes {
		if counted[cause] {
			continue
		}
		counted[cause] = true
		if t.count[cause] == 0 {
			t.order = append(t.order, cause)
		}
		t.count[cause]++
		t.rank[cause] += i
	}
}

// mostGood is how many features are praised, mostFaults how many faults are told: more help nobody.
const mostGood, mostFaults = 3, 5

// well lists the features that never failed nor were in doubt, those furthest inside their limits first. One that tells of
// the same as a feature that did go wrong, as the mean gap beside the largest one, is no praise.
func (s *features) well() []Good {
	good := []Good{}
	for _, f := range s.all {
		if f.judged > 0 && f.good == f.judged && !s.touched(f) {
			good = append(good, Good{wording.Name(f.view, f.key), f.judged, f.points / float64(f.judged)})
		}
	}
	slices.SortStableFunc(good, func(a, b Good) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(b.Crimps, a.Crimps), strings.Compare(a.Name, b.Name))
	})
	return good[:min(len(good), mostGood)]
}

// touched tells whether a fault means what this feature could mean, too small or too large.
func (s *features) touched(f *feature) bool {
	zero, one, two := 0.0, 1.0, 2.0
	for _, side := range []record.Feature{{Key: f.key, Value: &zero, Min: &one}, {Key: f.key, Value: &two, Max: &one}} {
		means := judged{f.view, side}.advice().Means
		if slices.ContainsFunc(s.kinds, func(fault *Fault) bool { return fault.Means == means }) {
			return true
		}
	}
	return false
}

// faults lists what went wrong, the most frequent first.
func (s *features) faults() []Fault {
	faults := []Fault{}
	for _, f := range s.kinds {
		faults = append(faults, *f)
	}
	slices.SortStableFunc(faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(b.Failed, a.Failed), cmp.Compare(b.InDoubt, a.InDoubt), strings.Compare(a.Means, b.Means))
	})
	return faults[:min(len(faults), mostFaults)]
}

// cause is the most frequent one; nil where nothing is wrong or in doubt.
func (s *features) cause() *Cause {
	for d, t := range s.causes {
		if t.crimps == 0 {
			continue
		}
		// Of causes that could explain as many, the one that is usually named first.
		best := slices.MinFunc(t.order, func(a, b string) int {
			return cmp.Or(cmp.Compare(t.count[b], t.count[a]), cmp.Compare(t.rank[a], t.rank[b]), strings.Compare(a, b))
		})
		return &Cause{Text: best, Crimps: t.count[best], Of: t.crimps, InDoubt: d == 1}
	}
	return nil
}

// NoneWell says why nothing is told that was done well.
func (t Trainee) NoneWell() string {
	if t.Yield.Of == 0 {
		return "Nothing was measured and judged, so that there is nothing to tell."
	}
	return "Nothing stands out yet: whatever was judged failed, or is in doubt, in one crimp or another."
}

// NoFault says why no fault is told.
func (t Trainee) NoFault() string {
	switch {
	case t.Yield.Of == 0:
		return "Nothing was measured and judged, so that there is nothing to tell."
	case t.Open() > 0:
		return "Nothing failed or is in doubt in what could be measured and judged."
	}
	return "Nothing failed or is in doubt."
}

// practice picks what to practise: against the most frequent fault, else photographing, where pictures came to nothing.
func (t Trainee) practice() *Practice {
	switch {
	case len(t.Faults) > 0 && t.Faults[0].Failed > 0:
		f := t.Faults[0]
		return &Practice{f.Exercise, countOf(f.Failed, "crimp fails", "crimps fail") + " by it: " + strings.Join(f.Names, ", ")}
	case t.NotMeasured > 0 && (len(t.Faults) == 0 || t.NotMeasured > t.Faults[0].InDoubt):
		return &Practice{advice.Photographing(), countOf(t.NotMeasured, "crimp", "crimps") + " could not be measured"}
	case len(t.Faults) > 0:
		f := t.Faults[0]
		return &Practice{f.Exercise, countOf(f.InDoubt, "crimp is", "crimps are") + " not proven by it: " + strings.Join(f.Names, ", ")}
	}
	return nil
}
