// Package grade says how those who learn to crimp did: how many crimps of each conform, how many in a row, what went well
// and what not, what to practise, how it went over time, and how far their own judgement agrees with the program's. It
// takes the same crimps as the evidence, and adds a page and a PDF for each trainee to it.
//
// It compares nobody with anybody: trainees stand in the order of their names, and beside every share stands the interval
// that so few crimps leave open. It does not qualify a person.
package grade

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"golang.org/x/text/collate"
	"golang.org/x/text/language"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/vision/record"
)

// Mark is what a trainee is to reach: so many crimps in a row, each of which conforms and has at least Score points (of
// 100; a crimp that conforms has 70 or more).
type Mark struct {
	Row   int     `json:"row"`
	Score float64 `json:"least_score"`
}

// UsualMark is ten in a row that conform (no source; it is for the trainer to set).
var UsualMark = Mark{Row: 10}

// Report is how all trainees did.
type Report struct {
	Mark     Mark      `json:"mark"`
	Trainees []Trainee `json:"trainees"`
	Limits   []Limits  `json:"judged_by"` // all that judged any trainee
	// Unlike says which trainees were judged by different limits; empty where all were by the same.
	Unlike string `json:"different_limits,omitempty"`
	// Unlisted are the pictures that do not stand in the manifest, where there is one.
	Unlisted []string `json:"not_in_manifest,omitempty"`
}

// Trainee is how one did. Crimps stand in the order in which they were made.
type Trainee struct {
	Name   string  `json:"name"` // empty for crimps of which nobody said who made them
	Crimps []Crimp `json:"crimps"`
	// ByDate tells that all crimps have a date, and stand in the order of these.
	ByDate bool `json:"ordered_by_date"`
	// Order is what the order follows. PlaceUnknown are the crimps of which nobody knows their place in it; they stand last.
	Order        Order     `json:"order"`
	PlaceUnknown []string  `json:"place_unknown,omitempty"`
	Missing      []Missing `json:"missing,omitempty"`
	Limits       []Limits  `json:"judged_by"`

	Counts
	Yield Yield  `json:"yield"`
	Score Points `json:"score"`
	Row   Row    `json:"row"`
	Findings
	Wires     Wires     `json:"stripped_wires"` // they are no crimps, and count as none
	Days      []Day     `json:"progress"`
	Earlier   []Earlier `json:"progress_counts_also,omitempty"`
	Change    *Change   `json:"change,omitempty"` // nil: there are no two days to compare
	Agreement Agreement `json:"agreement"`
}

// Counts are how many crimps, or stripped wires, came out how.
type Counts struct {
	Conforming  int `json:"conforming"`
	NotConform  int `json:"not_conforming"`
	NotProven   int `json:"not_proven"`
	NotMeasured int `json:"not_measured"`
	NotJudged   int `json:"not_judged"` // no limits were given
}

func (c *Counts) take(result record.Result) {
	switch result {
	case record.Conforms:
		c.Conforming++
	case record.DoesNotConform:
		c.NotConform++
	case record.NotProven:
		c.NotProven++
	case record.NotMeasured:
		c.NotMeasured++
	default:
		c.NotJudged++
	}
}

// Judged is how many were measured and judged.
func (c Counts) Judged() int { return c.Conforming + c.NotConform + c.NotProven }

// Open is how many say nothing for sure: not proven, not measured or not judged.
func (c Counts) Open() int { return c.NotProven + c.NotMeasured + c.NotJudged }

// Wires are the stripped wires of a trainee.
type Wires struct {
	Wires []Crimp `json:"wires"`
	Counts
	Findings
}

// Crimp is the light part of a crimp or a stripped wire.
type Crimp struct {
	Number int           `json:"number"`
	Name   string        `json:"crimp"`
	Date   string        `json:"date,omitempty"`
	Result record.Result `json:"result,omitempty"` // empty: not judged
	Score  float64       `json:"score"`
	Own    record.Result `json:"own_verdict,omitempty"`
	Faults []string      `json:"faults,omitempty"` // names of features that do not conform
	Doubts []string      `json:"doubts,omitempty"` // why its pictures do not prove it
	Why    string        `json:"why,omitempty"`    // why it is what it is, where it does not conform or is open
	// CostMost is the feature that cost a crimp that conforms the most points, with its own points; see Below.
	CostMost string `json:"cost_most,omitempty"`
	// Drawing is the path of the overlay that shows what does not conform, in the evidence.
	Drawing string `json:"drawing,omitempty"`

	line   int      // the first that has it in the manifests, from 1; 0: none has
	sums   []string // SHA-256 of its pictures
	limits []Limits // that judged it
}

// Yield is the share of the crimps judged and measured that are proven to conform, with its 95 % interval after Clopper
// and Pearson, 0..1. Not proven ones count as not conforming; what was not measured or not judged is left out.
type Yield struct {
	Conforming int     `json:"conforming"`
	Of         int     `json:"of"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Open       int     `json:"open"`   // not proven, not measured or not judged
	Proven     bool    `json:"proven"` // any crimp is proven, good or bad; a share of nothing but open ones says nothing
}

func yieldOf(c Counts) Yield {
	low, high := statistics.ClopperPearson(c.Conforming, c.Judged(), statistics.Usual)
	return Yield{c.Conforming, c.Judged(), low, high, c.Open(), c.Conforming+c.NotConform > 0}
}

// Points are the scores, 0..100, of the crimps judged and measured, those that the yield counts too: their mean, the least
// and the greatest. A crimp whose pictures are in doubt has less than one that conforms (site.MostUnproven).
type Points struct {
	Of    int     `json:"of"`
	Mean  float64 `json:"mean"`
	Least float64 `json:"least"`
	Most  float64 `json:"most"`
}

// Options say what to grade by.
type Options struct {
	Mark Mark
	Past Past // nil: nothing is remembered
	// Missing are the crimps that earlier scans found bad or open and of which no picture is left.
	Missing []evidence.Missing
	// Tolerances are the files that judged, as the evidence has them.
	Tolerances []evidence.Tolerances
	// Line tells in which line of the manifests, counted from 1 over all of them, a picture stands; 0: in none. Nil: there is
	// no manifest.
	Line func(file string) int
}

// Of grades the crimps of a scan.
func Of(ctx context.Context, src evidence.Source, o Options) (Report, error) {
	r := Report{Mark: o.Mark, Trainees: []Trainee{}}
	all := map[string]*gathered{}
	err := src.Crimps(ctx, func(c site.Crimp) error {
		name := TraineeOf(c)
		if all[name] == nil {
			all[name] = &gathered{}
		}
		all[name].take(c, o)
		r.Unlisted = append(r.Unlisted, unlisted(c, o.Line)...)
		return ctx.Err()
	})
	if err != nil {
		return Report{}, err
	}
	miss(all, o.Missing)
	names := make([]string, 0, len(all))
	for name := range all {
		names = append(names, name)
	}
	slices.SortFunc(names, byName())
	for _, name := range names {
		t := all[name].trainee(name, o.Mark)
		if err := t.remember(ctx, o.Past); err != nil {
			return Report{}, err
		}
		r.Trainees = append(r.Trainees, t)
	}
	r.Limits, r.Unlike = r.allLimits(), r.unlikeLimits()
	return r, nil
}

// Named is how many trainees have a name.
func (r Report) Named() int {
	n := 0
	for _, t := range r.Trainees {
		if t.Name != "" {
			n++
		}
	}
	return n
}

// byName orders names as people look them up: letters with accents beside those without, capitals beside small ones,
// "trainee 9" before "trainee 10", the empty name last.
func byName() func(a, b string) int {
	folded := collate.New(language.Und, collate.Loose, collate.Numeric)
	return func(a, b string) int {
		if a == "" || b == "" {
			return evidence.ByName(a, b)
		}
		return cmp.Or(folded.CompareString(a, b), evidence.ByName(a, b))
	}
}

// TraineeOf says who made a crimp: as the manifest or the name of the file says, else the folder in which its first
// picture lies.
func TraineeOf(c site.Crimp) string {
	if c.Label.Trainee != "" || len(c.Pictures) == 0 {
		return c.Label.Trainee
	}
	folder, _, found := strings.Cut(c.Pictures[0].File, "/")
	if !found {
		return ""
	}
	return folder
}
