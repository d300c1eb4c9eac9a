package site

import (
	"fmt"
	"time"
)

// SetAside finds out which of the values measured elsewhere are not of this crimp, and notes why: those that were measured
// before the crimp was made belong to a contact that was cut off since, and prove nothing of the new one. Where it is not
// known when the crimp was made, all count. It is to be called before they are judged, and again where the label changes.
func (c *Crimp) SetAside() {
	made, err := time.Parse(time.DateOnly, c.Label.Date)
	for i := range c.Elsewhere {
		e := &c.Elsewhere[i]
		e.Outdated = ""
		if done, wrong := time.Parse(time.DateOnly, e.When); err == nil && wrong == nil && done.Before(made) {
			e.Outdated = fmt.Sprintf("measured before this crimp was made (%s)", c.Label.Date)
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
