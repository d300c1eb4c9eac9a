package grade

import (
	"cmp"
	"fmt"
	"slices"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Order is what the order of a trainee's crimps follows; a row is counted in it. No order follows the names of files, but for
// crimps that nobody named: those are called by their file.
type Order string

// The orders. Where one crimp has a date, all are ordered by date and, within a day, by name: crimp-2 before crimp-10. Where none has,
// the manifest's lines count, where any crimp stands in one, else the names. A crimp without what the others are ordered by has
// no place that anybody knows.
const (
	ByDay      Order = "date"
	ByManifest Order = "manifest"
	ByTheName  Order = "name"
)

// Words is a heading's end: "in the order of their dates".
func (o Order) Words() string {
	switch o {
	case ByDay:
		return "of their dates, within a day of their names"
	case ByManifest:
		return "of the manifest"
	}
	return "of their names"
}

// ordered parts crimps into those whose place is known, in their order, and those whose place is not.
func ordered(crimps []Crimp) (o Order, placed, unknown []Crimp) {
	by := func(a, b Crimp) int { return 0 }
	has := func(Crimp) bool { return true }
	switch {
	case slices.ContainsFunc(crimps, func(c Crimp) bool { return c.Date != "" }):
		o, has = ByDay, func(c Crimp) bool { return c.Date != "" }
		by = func(a, b Crimp) int { return cmp.Compare(a.Date, b.Date) }
	case slices.ContainsFunc(crimps, func(c Crimp) bool { return c.line > 0 }):
		o, has = ByManifest, func(c Crimp) bool { return c.line > 0 }
		by = func(a, b Crimp) int { return cmp.Compare(a.line, b.line) }
	default:
		o = ByTheName
	}
	for _, c := range crimps {
		if has(c) {
			placed = append(placed, c)
		} else {
			unknown = append(unknown, c)
		}
	}
	natural := func(a, b Crimp) int { return wording.ByNumbers(a.Name, b.Name) }
	slices.SortStableFunc(placed, func(a, b Crimp) int { return cmp.Or(by(a, b), natural(a, b)) })
	slices.SortStableFunc(unknown, natural)
	return o, placed, unknown
}

// row counts for rowOf: the runs of crimps that count between those that break them, wherever crimps of unknown place stand.
type row struct {
	runs   []int // lengths, in the order of the placed ones; the last is the present one
	good   int   // crimps of unknown place that count
	breaks int   // crimps of unknown place that break
}

func rowAs(placed, unknown []Crimp, counts func(Crimp) bool) row {
	r := row{runs: []int{0}}
	for _, c := range placed {
		if counts(c) {
			r.runs[len(r.runs)-1]++
		} else {
			r.runs = append(r.runs, 0)
		}
	}
	for _, c := range unknown {
		if counts(c) {
			r.good++
		} else {
			r.breaks++
		}
	}
	return r
}

// sure is the longest row that there is wherever the crimps of unknown place stand: the least length that all runs can be
// kept to by breaking the known ones with those that break, and filling all evenly with those that count.
func (r row) sure() int {
	all := r.good
	for _, n := range r.runs {
		all += n
	}
	for length := 0; ; length++ {
		needed, room := 0, length*(len(r.runs)+r.breaks)
		for _, n := range r.runs {
			if length > 0 && n > 0 {
				needed += (n - 1) / length // so many breaks part n into runs of this length
			}
		}
		if room >= all && needed <= r.breaks {
			return length
		}
	}
}

// now is the row up to the last crimp, at the worst.
func (r row) now() int {
	last := r.runs[len(r.runs)-1]
	switch {
	case r.breaks > 0:
		return 0
	case len(r.runs) == 1:
		return last + r.good
	}
	return last
}

// most is the longest row that there can be.
func (r row) most() int { return slices.Max(r.runs) + r.good }

// PlaceWords says whose place in the order nobody knows, and what follows; empty where all have theirs.
func (t Trainee) PlaceWords() string {
	n := len(t.PlaceUnknown)
	if n == 0 {
		return ""
	}
	what, next := "has no date", "say when it was made, in the column date of the manifest"
	if n > 1 {
		what, next = "have no date", "say when they were made, in the column date of the manifest"
	}
	if t.Order == ByManifest {
		what, next = "stands not in the manifest", "write it into the manifest"
		if n > 1 {
			what, next = "stand not in the manifest", "write them into the manifest"
		}
	}
	return fmt.Sprintf("%d of the %s %s (%s), so that nobody knows the place in the order; the rows are those that are sure wherever it is: %s.",
		n, countOf(len(t.Crimps), "crimp", "crimps"), what, someOf(t.PlaceUnknown), next)
}

// open tells whether what a crimp is like is not known.
func (c Crimp) open() bool {
	switch c.Result {
	case record.NotProven, record.NotMeasured, "":
		return true
	}
	return false
}
