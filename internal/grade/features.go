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

// Good is a feature that conforms in every crimp in which it was judged. Score is the mean of the feature's points: how far
// inside its limits, and how near to its aim, it lies.
type Good struct {
	Name   string  `json:"name"`
	Crimps int     `json:"crimps"`
	Score  float64 `json:"score"`
	noun   noun
}

// Words says it in a sentence without its end.
func (g Good) Words() string {
	return fmt.Sprintf("%s: conforms in %s in which it was judged, %.1f of 100 points on average", g.Name, share(g.Crimps, g.Crimps, g.noun), g.Score)
}

// features gathers the judged features of a trainee's crimps.
type features struct {
	all    []*feature // in the order in which they came up
	faults []*fault   // likewise
	causes tally
	crimps int // so many were taken
}

// feature is one measurand in one view over all crimps.
type feature struct {
	view       record.View
	key        record.Key
	judged     map[int]bool // the crimps in which it has a value, by the order in which they were taken
	good       int
	doubtful   int
	unmeasured int
	never      bool   // no value would have been proven, in any crimp in which it is not proven
	why        string // the first reason why it was not measured, or not proven
	points     float64
}

// judged is a feature with its view; one that was measured elsewhere has none. valued tells that it has a value in one of
// the crimp's pictures.
type judged struct {
	view record.View
	record.Feature
	valued bool
}

// judgedOf lists the judged features of a crimp, each once: as its worst picture shows it.
func judgedOf(c site.Crimp) []judged {
	var all []judged
	take := func(view record.View, features []record.Feature) {
		for _, f := range features {
			valued := f.Result != record.NotMeasured
			i := slices.IndexFunc(all, func(j judged) bool { return j.view == view && j.Key == f.Key })
			switch {
			case i < 0:
				all = append(all, judged{view, f, valued})
			case f.Result.Worse(all[i].Result):
				all[i] = judged{view, f, valued || all[i].valued}
			default:
				all[i].valued = valued || all[i].valued
			}
		}
	}
	for _, p := range c.Pictures {
		if p.Usable() && p.Record.Verdict != nil {
			take(p.Record.View, p.Record.Verdict.Features)
		}
	}
	if c.ElsewhereVerdict != nil {
		take("", c.ElsewhereVerdict.Features)
	}
	return all
}

// advice says what the feature means.
func (j judged) advice() *record.Advice {
	if j.view == "" {
		return advice.ForElsewhere(j.Feature)
	}
	return advice.For(j.view, j.Feature)
}

// take counts a crimp's features in, and gives the names of those that do not conform. Of a crimp in doubt only these
// count: what is good in its pictures proves nothing.
func (s *features) take(c site.Crimp) []string {
	n := s.crimps
	s.crimps++
	var names []string
	var causes [][]string
	told := map[string]bool{}
	for _, j := range judgedOf(c) {
		bad := j.Result == record.DoesNotConform
		if len(c.Doubts) > 0 && !bad {
			continue
		}
		f := s.of(j)
		f.take(n, j)
		if !bad {
			continue
		}
		name, words := wording.Name(j.view, j.Key), j.advice()
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		kind := s.fault(words, f)
		if !told[words.Means] {
			told[words.Means] = true
			kind.failed++
			causes = append(causes, words.Causes)
		}
	}
	s.causes.take(causes)
	return names
}

func (s *features) of(j judged) *feature {
	for _, f := range s.all {
		if f.view == j.view && f.key == j.Key {
			return f
		}
	}
	f := &feature{view: j.view, key: j.Key, judged: map[int]bool{}, never: true}
	s.all = append(s.all, f)
	return f
}

func (f *feature) name() string { return wording.Name(f.view, f.key) }

func (f *feature) take(crimp int, one judged) {
	if one.valued {
		f.judged[crimp] = true
	}
	switch one.Result {
	case record.Conforms:
		f.good++
	case record.NotProven:
		f.doubtful++
		f.never = f.never && one.Reason != ""
		f.why = cmp.Or(f.why, one.Reason)
	case record.NotMeasured:
		f.unmeasured++
		f.why = cmp.Or(f.why, one.Reason)
	}
	if one.Score != nil {
		f.points += *one.Score
	}
}

// mostGood is how many features are praised: more help nobody.
const mostGood = 3

// well lists the features that conform wherever they were judged, those furthest inside their limits first. One that tells
// of the same as a feature that did go wrong, as the mean gap beside the largest one, is no praise.
func (s *features) well(n noun) []Good {
	good := []Good{}
	for _, f := range s.all {
		if f.good > 0 && f.good == len(f.judged) && !s.touched(f) {
			good = append(good, Good{f.name(), f.good, f.points / float64(f.good), n})
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
	bad := record.DoesNotConform
	for _, side := range []record.Feature{{Key: f.key, Result: bad, Value: &zero, Min: &one}, {Key: f.key, Result: bad, Value: &two, Max: &one}} {
		means := judged{f.view, side, true}.advice().Means
		if slices.ContainsFunc(s.faults, func(fault *fault) bool { return fault.means == means }) {
			return true
		}
	}
	return false
}
