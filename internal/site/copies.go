package site

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Claim is a picture that was handed in for a crimp.
type Claim struct {
	Label Label  // of the crimp, with its date
	File  string // in what was scanned
	Path  string // with what was scanned before it
	Scan  int64
	On    time.Time // of the scan
	Sure  bool      // the manifest, a tag or the file's name says which crimp it is; else it was assumed from its place
	Look  string    // equal for bytes, or pixels, that are equal to the last; else one is the other saved anew
}

// name is the crimp's name or, of a picture that stands for itself, its file; dated, with the date where that is known.
func (c Claim) name(dated bool) string {
	name := c.Label.Name()
	if name == "" {
		name = c.File
	}
	if dated && c.Label.Date != "" {
		return Quoted(name) + " of " + c.Label.Date
	}
	return Quoted(name)
}

// Contradicts tells whether one picture cannot be handed in for both: a copy proves one crimp only. In one scan it is two crimps
// that contradict each other. Of different scans it is two trainees, two days, or two crimps; but where the very same file
// is named otherwise than in another scan, somebody put the manifest or the pattern right. What was handed in without a
// name claims nothing, unless it lies in another place too.
func (c Claim) Contradicts(o Claim) bool {
	differ := func(a, b string) bool { return a != "" && b != "" && a != b }
	samePath := c.Path == o.Path
	if samePath && !(c.Sure && o.Sure) {
		return false // who assumes nothing any more has put it right
	}
	if differ(c.Label.Trainee, o.Label.Trainee) || c.Label.Trainee != "" && o.Label.Trainee != "" && differ(c.Label.Date, o.Label.Date) {
		return true
	}
	switch {
	case samePath:
		return false
	case c.Label.Crimp == "" && o.Label.Crimp == "":
		return !within(c.Path, o.File) && !within(o.Path, c.File) // the same folder, scanned from further up or after it was moved
	case c.Label.Crimp == "" || o.Label.Crimp == "":
		return false
	}
	return c.Label.String != o.Label.String || c.Label.Trainee != o.Label.Trainee || c.Label.Crimp != o.Label.Crimp || differ(c.Label.Date, o.Label.Date)
}

// within tells whether a path ends with a file's path.
func within(path, file string) bool { return path == file || strings.HasSuffix(path, "/"+file) }

// DoubtCopies notes a doubt where a picture was handed in for other crimps too; others are those claims, at least one.
func (c *Crimp) DoubtCopies(own Claim, others []Claim) {
	dated := slices.ContainsFunc(others, func(o Claim) bool { return o.Label.Date != own.Label.Date || o.Scan != own.Scan })
	names := []string{own.name(dated)}
	saved := "" // the first crimp that has it saved anew
	for _, o := range others {
		name := o.name(dated)
		if saved == "" && o.Look != own.Look {
			saved = name
		}
		if o.Scan != own.Scan {
			name += fmt.Sprintf(" in scan %d on %s", o.Scan, o.On.UTC().Format(time.DateOnly))
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	const most = 5
	if more := len(names) - most; more > 0 {
		names = append(names[:most], fmt.Sprintf("%d more", more))
	}
	last := len(names) - 1
	text := strings.Join(names[:last], ", ") + " and " + names[last]
	what := "the same picture (" + Quoted(own.File) + ") stands for"
	if saved != "" {
		what = Quoted(own.File) + " looks like a re-saved copy of the picture of " + saved + ", or that like one of this; it stands for"
	}
	c.Doubt("%s %s: a copy proves one crimp only, photograph the others%s", what, text, first(own, others, dated))
}

// first says which claim came first, as far as scans or dates tell: a help, and no proof of who copied.
func first(own Claim, others []Claim, dated bool) string {
	all := append([]Claim{own}, others...)
	oldest := slices.MinFunc(all, func(a, b Claim) int {
		if a.Scan != b.Scan {
			return int(a.Scan - b.Scan)
		}
		return strings.Compare(a.Label.Date, b.Label.Date)
	})
	later := func(c Claim) bool { return c.Scan > oldest.Scan }
	switch {
	case slices.ContainsFunc(all, later):
		return fmt.Sprintf("; scan %d had it first, for %s", oldest.Scan, oldest.name(dated))
	case oldest.Label.Date != "" && !slices.ContainsFunc(all, func(c Claim) bool { return c.Label.Date == "" }) &&
		slices.ContainsFunc(all, func(c Claim) bool { return c.Label.Date > oldest.Label.Date }):
		return "; by their dates " + oldest.name(dated) + " was first"
	}
	return ""
}
