package grade

import (
	"fmt"

	"crimprule/vision/record"
)

// Standing says whether the mark was reached.
type Standing string

// The standings. Open: what is not proven or not measured could still make up a row that is long enough.
const (
	Reached    Standing = "reached"
	NotReached Standing = "not_reached"
	Open       Standing = "open"
)

// Row is how many crimps in a row conform with the score that the mark asks for. What is not proven (a crimp in doubt is
// not) or not measured is not in a row, since a bad crimp could be hidden behind a bad picture; Possible is the longest row if all of it turns out
// to be good.
type Row struct {
	Longest  int      `json:"longest"`
	Current  int      `json:"current"` // up to the last crimp
	Possible int      `json:"possible"`
	Standing Standing `json:"standing"`
}

// rowOf counts the rows.
func rowOf(crimps []Crimp, mark Mark) Row {
	var r Row
	possible := 0
	for _, c := range crimps {
		sure, open := c.Result == record.Conforms && c.Score >= mark.Score, false
		switch c.Result {
		case record.NotProven, record.NotMeasured, "":
			open = true
		}
		r.Current, possible = next(r.Current, sure), next(possible, sure || open)
		r.Longest, r.Possible = max(r.Longest, r.Current), max(r.Possible, possible)
	}
	switch {
	case r.Longest >= mark.Row:
		r.Standing = Reached
	case r.Possible >= mark.Row:
		r.Standing = Open
	default:
		r.Standing = NotReached
	}
	return r
}

func next(row int, longer bool) int {
	if longer {
		return row + 1
	}
	return 0
}

// Words says the mark in a sentence's end: "10 crimps in a row that conform with 80 points or more".
func (m Mark) Words() string {
	text := fmt.Sprintf("%d crimps in a row that conform", m.Row)
	if m.Row == 1 {
		text = "1 crimp that conforms"
	}
	if m.Score > 0 {
		text += fmt.Sprintf(" with %.4g points or more", m.Score)
	}
	return text
}

// Words says in a sentence how the trainee stands to the mark.
func (t Trainee) Words(mark Mark) string {
	r := t.Row
	switch r.Standing {
	case Reached:
		text := fmt.Sprintf("The mark is reached: the longest row has %d, the mark asks for %s.", r.Longest, mark.Words())
		if r.Current < mark.Row {
			text += fmt.Sprintf(" But the row was broken after that, and now stands at %d.", r.Current)
		}
		return text
	case Open:
		return fmt.Sprintf("Open: the longest row has %d, the mark asks for %s. If what is not proven or not measured is good, it is %d: take these "+
			"pictures again, or make further crimps.", r.Longest, mark.Words(), r.Possible)
	}
	text := fmt.Sprintf("The mark is not reached: the longest row has %d, the mark asks for %s.", r.Longest, mark.Words())
	if len(t.Crimps) < mark.Row {
		text += " Only " + countOf(len(t.Crimps), "crimp was", "crimps were") + " seen so far."
	}
	if len(t.Crimps) == 0 {
		text = "The mark is not reached: no crimp was seen so far; the mark asks for " + mark.Words() + "."
	}
	return text
}
