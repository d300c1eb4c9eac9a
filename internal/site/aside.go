package site

import (
	"fmt"
	"time"
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
