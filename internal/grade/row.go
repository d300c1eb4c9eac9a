package grade

import (
	"fmt"

	"crimprule/vision/record"
)

// Standing says whether the mark was reached.
type Standing string

// The standings. Open: what is not proven or not measured, what has no place in the order that anybody knows, or what is
// missing could still decide. NoMark: nobody said who made the crimps.
const (
	Reached    Standing = "reached"
	NotReached Standing = "not_reached"
	Open       Standing = "open"
	NoMark     Standing = "no_mark"
)

// Row is how many crimps in a row conform with the score that the mark asks for. What is not proven (a crimp in doubt is
// not) or not measured is not in a row, since a bad crimp could be hidden behind a bad picture. Where the place of crimps in
// the order is not known, Longest and Current are those that are sure wherever these stand. Possible is the longest row if all
// that is open turns out to be good, and stands where it helps most.
type Row struct {
	Longest  int      `json:"longest"`
	Current  int      `json:"current"` // up to the last crimp
	Possible int      `json:"possible"`
	Standing Standing `json:"standing"`
}

// rowOf counts the rows; unknown are crimps whose place nobody knows.
func rowOf(placed []Crimp, mark Mark, unknown ...Crimp) Row {
	counts := func(c Crimp) bool { return c.Result == record.Conforms && c.Score >= mark.Score }
	sure := rowAs(placed, unknown, counts)
	r := Row{Longest: sure.sure(), Current: sure.now()}
	r.Possible = rowAs(placed, unknown, func(c Crimp) bool { return counts(c) || c.open() }).most()
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

// Words says in sentences how the trainee stands to the mark.
func (t Trainee) Words(mark Mark) string {
	return join(t.standing(mark), t.PlaceWords(), t.MissingWords())
}

// NoMarkWords says why crimps of nobody have no mark, and what to do.
const NoMarkWords = "No mark: nobody said who made these crimps. Name the trainee in the column trainee of the manifest, or put the photos into a folder of " +
	"the trainee's name, and grade again."

func (t Trainee) standing(mark Mark) string {
	r := t.Row
	longest := fmt.Sprintf("the longest row in these pictures has %d, the mark asks for %s", r.Longest, mark.Words())
	switch r.Standing {
	case NoMark:
		return NoMarkWords
	case Reached:
		text := "The mark is reached: " + longest + "."
		if r.Current < mark.Row {
			text += fmt.Sprintf(" But the row was broken after that, and now stands at %d.", r.Current)
		}
		return text
	case Open:
		text := "Open: " + longest
		switch {
		case r.Longest >= mark.Row: // what is missing keeps it open
			return text + ", but crimps are missing."
		case t.Open() == 0: // the order keeps it open
			return text + fmt.Sprintf(". In another order it could be %d.", r.Possible)
		}
		return text + fmt.Sprintf(". If what is not proven or not measured is good, it is %d: take these pictures again, or make further crimps.", r.Possible)
	}
	if len(t.Crimps) == 0 {
		return "The mark is not reached: these pictures show no crimp; the mark asks for " + mark.Words() + "."
	}
	text := "The mark is not reached: " + longest + "."
	if len(t.Crimps) < mark.Row {
		text += " These pictures show only " + countOf(len(t.Crimps), "crimp", "crimps") + "."
		if len(t.Earlier) > 0 {
			text += " To count on from earlier ones, name their folders in the same call."
		}
	}
	return text
}

// Since says what came after a mark that was reached, where the row is over; else it is empty.
func (t Trainee) Since(mark Mark) string {
	if t.Row.Standing != Reached || t.Row.Current >= mark.Row {
		return ""
	}
	n := 0
	for len(t.PlaceUnknown) == 0 && n < len(t.Crimps) && t.Crimps[len(t.Crimps)-1-n].Result == record.DoesNotConform {
		n++
	}
	switch n {
	case 0:
		return fmt.Sprintf("but the row now stands at %d", t.Row.Current)
	case 1:
		return "but the last does not conform"
	}
	return fmt.Sprintf("but the last %d do not conform", n)
}

// RowWords are the longest row and the present one.
func (t Trainee) RowWords() string {
	text := fmt.Sprintf("longest %d, now %d", t.Row.Longest, t.Row.Current)
	switch {
	case t.Row.Possible <= t.Row.Longest:
	case len(t.PlaceUnknown) > 0:
		text += fmt.Sprintf("; %d if all that is open is good and stands where it helps most", t.Row.Possible)
	default:
		text += fmt.Sprintf("; %d if all that is open is good", t.Row.Possible)
	}
	return text
}
