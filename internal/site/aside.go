package site

import (
	"fmt"
	"slices"
	"time"

	"crimprule/internal/elsewhere"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// SetAside finds out which of the values measured elsewhere are not of this crimp, and notes why. Where it was said when the
// crimp was made that a value is of, that decides. Else a value is of the last crimp of the name that had been made when it
// was measured: one from before this crimp was made is of a contact that was cut off since, and proves nothing of the new
// one; one from the day on which the next one was made, or later, is of that. Where it is not known when the crimp was
// made, all count. It is to be called before they are judged, and again where Label or Days change.
func (c *Crimp) SetAside() {
	made, err := time.Parse(time.DateOnly, c.Label.Date)
	next, last := time.Parse(time.DateOnly, c.next())
	for i := range c.Elsewhere {
		e := &c.Elsewhere[i]
		e.Outdated = ""
		done, wrong := time.Parse(time.DateOnly, e.When)
		switch {
		case err != nil:
		case e.Made == c.Label.Date:
		case e.Made != "":
			e.Outdated = "it is of the crimp that was made on " + e.Made
		case wrong != nil:
		case done.Before(made):
			e.Outdated = fmt.Sprintf("measured before this crimp was made (%s)", c.Label.Date)
		case last == nil && !done.Before(next):
			e.Outdated = fmt.Sprintf("measured when the next crimp of this name had been made (%s)", c.next())
		}
	}
}

// NotJudged says why the value is not judged; it is empty where it counts.
func (e Elsewhere) NotJudged() string {
	if e.Withdrawn != "" {
		return e.Withdrawn
	}
	return e.Outdated
}

// Remark is why the value is not judged and what else was noted of it, as far as there is anything to say.
func (e Elsewhere) Remark() string {
	why := e.NotJudged()
	if why == "" {
		return e.Note
	}
	why = "not judged: " + why
	if e.Note == "" {
		return why
	}
	return why + "; note: " + e.Note
}

// WarnOfElsewhere notes what a person must look into of the values measured elsewhere: those that count and were not judged,
// since none of the tolerances files has a limit for them, and a pull-out force of a crimp that was cut. It is to be
// called when ElsewhereVerdict is known; files are the paths of the tolerances files.
func (c *Crimp) WarnOfElsewhere(files []string) {
	judged := map[record.Key]bool{}
	if c.ElsewhereVerdict != nil {
		for _, f := range c.ElsewhereVerdict.Features {
			judged[f.Key] = true
		}
	}
	cut := slices.ContainsFunc(c.Pictures, func(p Picture) bool { return p.Usable() && p.Record.View == record.Section })
	for _, e := range c.Elsewhere {
		if e.NotJudged() != "" {
			continue
		}
		if !judged[e.Key] && len(files) > 0 {
			c.Warn("%s %s, measured elsewhere, was not judged: there is no limit for it in %s; write one there (group elsewhere:), or withdraw the value",
				wording.Name("", e.Key), wording.Quantity(e.Value), andQuoted(files))
		}
		if cut && e.Key == elsewhere.PullOutForce {
			c.Warn("a section shows this crimp, and %s %s was measured of it: one crimp gives both only where it was pulled first and cut afterwards; "+
				"find out whether the force is another crimp's, and withdraw it then", wording.Name("", e.Key), wording.Quantity(e.Value))
		}
	}
}

// andQuoted lists names: "a", "b" and "c".
func andQuoted(names []string) string {
	if len(names) == 1 {
		return Quoted(names[0])
	}
	return listed(names)
}

// Counting is how many of the values measured elsewhere count.
func (c *Crimp) Counting() int {
	n := 0
	for _, e := range c.Elsewhere {
		if e.NotJudged() == "" {
			n++
		}
	}
	return n
}
