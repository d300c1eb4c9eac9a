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

// NotShown stands over what pictures left open, WiresAreNoCrimps over the stripped wires.
const (
	NotShown         = "These are no faults: nobody knows from these pictures whether they are good or bad."
	WiresAreNoCrimps = "They are no crimps, and count in no yield, score or row."
)

// Unshown is a feature that pictures left open. It is no fault: nobody knows whether it is good or bad.
type Unshown struct {
	Name        string `json:"feature"`
	NotProven   int    `json:"not_proven"`   // crimps
	NotMeasured int    `json:"not_measured"` // crimps
	Judged      int    `json:"judged"`       // crimps in which it has a value
	Why         string `json:"why,omitempty"`
	Never       bool   `json:"never,omitempty"` // no such picture would prove it, whatever the crimp is like
	Shows       string `json:"what_would_show_it"`
	noun        noun
}

// Words says in how many crimps it is open, and why.
func (u Unshown) Words() string {
	var parts []string
	if u.NotProven > 0 {
		parts = append(parts, "not proven in "+share(u.NotProven, u.Judged, u.noun)+" in which it was judged")
	}
	if u.NotMeasured > 0 {
		parts = append(parts, "not measured in "+u.noun.count(u.NotMeasured))
	}
	text := strings.Join(parts, ", ")
	if u.Why != "" {
		text += ": " + wording.Clean(u.Why)
	}
	return strings.ToUpper(text[:1]) + strings.TrimSuffix(text[1:], ".") + "."
}

// mostUnshown is how many open features are told.
const mostUnshown = 8

// unshown lists the features that the pictures left open, the most frequent first.
func (s *features) unshown(n noun) []Unshown {
	open := []Unshown{}
	for _, f := range s.all {
		if f.doubtful+f.unmeasured == 0 {
			continue
		}
		open = append(open, Unshown{Name: f.name(), NotProven: f.doubtful, NotMeasured: f.unmeasured, Judged: len(f.judged), Why: f.why,
			Never: f.never && f.doubtful > 0 && f.unmeasured == 0, Shows: advice.ToShow(f.view, f.key), noun: n})
	}
	slices.SortStableFunc(open, func(a, b Unshown) int { return cmp.Compare(b.NotProven+b.NotMeasured, a.NotProven+a.NotMeasured) })
	return open[:min(len(open), mostUnshown)]
}

// Photos are pictures that came to nothing for the same reason, and were not taken again.
type Photos struct {
	Reason string   `json:"reason"`
	Files  []string `json:"files"`
}

// Words names the pictures and says why.
func (p Photos) Words() string {
	const most = 3
	var names []string
	for _, file := range p.Files[:min(len(p.Files), most)] {
		names = append(names, wording.Clean(file))
	}
	text := strings.Join(names, ", ")
	if more := len(p.Files) - most; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text + ": " + wording.Clean(p.Reason)
}

// photos gathers them.
type photos struct {
	all   []Photos
	taken int // pictures that ask for a better one
}

// take notes a crimp's pictures that came to nothing. One that only lacks a scale in the call is no fault of the person
// with the camera.
func (p *photos) take(c site.Crimp) {
	for i, picture := range c.Pictures {
		if picture.Usable() || c.Retaken(i) {
			continue
		}
		reason := picture.Failure
		if picture.Refused() {
			reason = picture.Record.Retake[0]
			if !strings.HasPrefix(reason, record.NoScaleDeclared) {
				p.taken++
			}
		}
		at := slices.IndexFunc(p.all, func(known Photos) bool { return known.Reason == reason })
		if at < 0 {
			at = len(p.all)
			p.all = append(p.all, Photos{Reason: reason})
		}
		p.all[at].Files = append(p.all[at].Files, picture.File)
	}
}

func (p *photos) badly() int { return p.taken }

func (p *photos) list() []Photos { return append([]Photos{}, p.all...) }

// OpenCrimps are the crimps that say nothing for sure, without those in doubt, which are told apart.
func (t Trainee) OpenCrimps() []Crimp {
	return slices.DeleteFunc(slices.Clone(t.Crimps), func(c Crimp) bool { return !c.open() || len(c.Doubts) > 0 })
}
