package evidence

import (
	"fmt"
	"strings"
)

// tally counts crimps and stripped wires, which are no crimps yet. Sections are crimps that were cut open, Pieces those of
// which there is no picture.
type tally struct{ Crimps, Sections, Pieces, Wires int }

func (t *tally) add(k kind) {
	switch k {
	case strippedEnd:
		t.Wires++
		return
	case cutSection:
		t.Sections++
	case testPiece:
		t.Pieces++
	}
	t.Crimps++
}

// all is how many of both there are.
func (t tally) all() int { return t.Crimps + t.Wires }

// String says it in words: "15 crimps, 4 stripped wires".
func (t tally) String() string {
	text := plural(t.Crimps, "crimp", "crimps")
	switch {
	case t.Sections > 0 && t.Sections == t.Crimps:
		text = plural(t.Sections, "section", "sections")
	case t.Sections+t.Pieces > 0:
		var parts []string
		if t.Sections > 0 {
			parts = append(parts, fmt.Sprintf("%d of them %s", t.Sections, pick(t.Sections == 1, "a section", "sections")))
		}
		if t.Pieces > 0 {
			parts = append(parts, fmt.Sprintf("%d without a picture", t.Pieces))
		}
		text += " (" + strings.Join(parts, ", ") + ")"
	}
	switch {
	case t.Wires == 0:
		return text
	case t.Crimps == 0:
		return t.wires()
	}
	return text + ", " + t.wires()
}

func (t tally) wires() string { return plural(t.Wires, "stripped wire", "stripped wires") }

// count is how many have a result.
type count struct {
	Badge  badge
	N      int    // crimps
	Beside string // stripped wires; empty where there is none
	All    int    // both, as the list shows them
	Kind   string // of the filter
}

// counts gives the counts by result; those of crimps that were not judged, and that were replaced, only where there are some.
func (b *book) counts() []count {
	var all []count
	for _, result := range order {
		if t := b.tallies[result]; t.all() > 0 || result != "" {
			c := count{Badge: badgeOf(result), N: t.Crimps, All: t.all(), Kind: badgeOf(result).Class}
			if t.Wires > 0 {
				c.Beside = " and " + t.wires()
			}
			all = append(all, c)
		}
	}
	if t := b.replaced; t.all() > 0 {
		all = append(all, count{Badge: replacedBadge, N: t.Crimps, All: t.all(), Kind: replacedBadge.Class})
	}
	return all
}

// total counts all.
func (b *book) total() tally {
	t := b.replaced
	for _, one := range b.tallies {
		t.Crimps, t.Sections, t.Pieces, t.Wires = t.Crimps+one.Crimps, t.Sections+one.Sections, t.Pieces+one.Pieces, t.Wires+one.Wires
	}
	return t
}
