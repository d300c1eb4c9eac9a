package grade

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// named gives the crimps of a workshop these names, in order.
func (w *workshop) named(names ...string) {
	for i, name := range names {
		w.change(i, func(c *site.Crimp) { c.Label.Crimp, c.Pictures[0].Label.Crimp = name, name })
	}
}

func orderOf(t Trainee) []string {
	var names []string
	for _, c := range t.Crimps {
		names = append(names, c.Name)
	}
	return names
}

// TestOrderByDate: crimps stand in the order of their dates, within a day in that of their names as people count, whatever
// the order of the files.
func TestOrderByDate(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", good, good, good)
	w.add("a", "2026-04-27", "", gap)
	w.named("crimp-10", "crimp-2", "crimp-9", "crimp-30")
	one := graded(t, w, Mark{Row: 2}).Trainees[0]
	assert.Equal(t, []string{"a / crimp-30", "a / crimp-2", "a / crimp-9", "a / crimp-10"}, orderOf(one))
	assert.True(t, one.ByDate)
	assert.Equal(t, ByDay, one.Order)
	assert.Equal(t, Row{3, 3, 3, Reached}, one.Row, "the bad crimp was the first one made")
	assert.Equal(t, "The mark is reached: the longest row in these pictures has 3, the mark asks for 2 crimps in a row that conform.", one.Words(Mark{Row: 2}))
}

// TestOrderWithoutDates: the manifest's, where there is one, else that of the names.
func TestOrderWithoutDates(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, gap, good, good)
	w.named("crimp-10", "crimp-2", "crimp-9", "crimp-1")
	one := graded(t, w, Mark{Row: 2}).Trainees[0]
	assert.Equal(t, []string{"a / crimp-1", "a / crimp-2", "a / crimp-9", "a / crimp-10"}, orderOf(one))
	assert.Equal(t, ByTheName, one.Order)
	assert.False(t, one.ByDate)
	assert.Equal(t, Row{2, 2, 2, Reached}, one.Row)

	lines := map[string]int{"bench/01.jpg": 3, "bench/02.jpg": 4, "bench/03.jpg": 1, "bench/04.jpg": 2}
	r := gradedWith(t, w, Options{Mark: Mark{Row: 3}, Line: func(file string) int { return lines[file] }})
	one = r.Trainees[0]
	assert.Equal(t, []string{"a / crimp-9", "a / crimp-1", "a / crimp-10", "a / crimp-2"}, orderOf(one))
	assert.Equal(t, ByManifest, one.Order)
	assert.Equal(t, Row{3, 0, 3, Reached}, one.Row)
	assert.Contains(t, one.Words(r.Mark), "But the row was broken after that, and now stands at 0.")
	assert.Empty(t, r.UnlistedWords())

	delete(lines, "bench/02.jpg")
	r = gradedWith(t, w, Options{Mark: Mark{Row: 3}, Line: func(file string) int { return lines[file] }})
	assert.Equal(t, Row{2, 0, 3, Open}, r.Trainees[0].Row, "the bad crimp may have parted the row")
	assert.Contains(t, r.Trainees[0].Words(r.Mark), "1 of the 4 crimps stands not in the manifest (a / crimp-2)")
	assert.Equal(t, "1 picture does not stand in the manifest: bench/02.jpg. Add a line for each, with the trainee, or take the picture away.", r.UnlistedWords())
}

// TestPlaceUnknown: a crimp without a date among dated ones may stand anywhere; the row is what is sure nevertheless.
func TestPlaceUnknown(t *testing.T) {
	w := newWorkshop(t)
	w.add("b", "2026-05-04", "", good, good)
	w.add("b", "", "", gap)
	dir, r := sheets(t, w, Mark{Row: 2})
	b := r.Trainees[0]
	assert.False(t, b.ByDate)
	assert.Equal(t, []string{"b / 03"}, b.PlaceUnknown)
	assert.Equal(t, Row{1, 0, 2, Open}, b.Row)
	for _, page := range []string{b.Words(r.Mark), text(read(t, dir, "01.html"))} {
		assert.Contains(t, page, "In another order it could be 2. 1 of the 3 crimps has no date (b / 03), so that nobody knows the place in the order")
	}
	assert.Contains(t, read(t, dir, "grade.json"), `"place_unknown": [`)
}

// TestSureRow: against all places that crimps without one can have, tried one after the other.
func TestSureRow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := rapid.Custom(func(t *rapid.T) Crimp {
			return Crimp{Result: rapid.SampledFrom([]record.Result{yes, no, record.NotProven}).Draw(t, "result"), Score: 90}
		})
		placed := rapid.SliceOfN(one, 0, 6).Draw(t, "placed")
		unknown := rapid.SliceOfN(one, 0, 4).Draw(t, "unknown")
		want := Row{Longest: 99, Current: 99}
		var try func(crimps, rest []Crimp)
		try = func(crimps, rest []Crimp) {
			if len(rest) == 0 {
				r := rowOf(crimps, Mark{Row: 3})
				want.Longest, want.Current, want.Possible = min(want.Longest, r.Longest), min(want.Current, r.Current), max(want.Possible, r.Possible)
				return
			}
			for at := range len(crimps) + 1 {
				try(append(append(append([]Crimp{}, crimps[:at]...), rest[0]), crimps[at:]...), rest[1:])
			}
		}
		try(placed, unknown)
		got := rowOf(placed, Mark{Row: 3}, unknown...)
		got.Standing = ""
		if got != want {
			t.Fatalf("%+v, not %+v", got, want)
		}
	})
}

// TestNobodysCrimps have no mark, and the sheet says what to do.
func TestNobodysCrimps(t *testing.T) {
	w := newWorkshop(t)
	w.add("", "2026-05-04", "", times(5, good)...)
	for i := range w.crimps {
		w.crimps[i].Pictures[0].File = fmt.Sprintf("%d.jpg", i)
	}
	dir, r := sheets(t, w, Mark{Row: 5})
	require.Len(t, r.Trainees, 1)
	assert.Equal(t, NoMark, r.Trainees[0].Row.Standing)
	assert.Equal(t, NoMarkWords, r.Trainees[0].Words(r.Mark))
	assert.Zero(t, r.Named())
	for _, name := range []string{"index.html", "01.html"} {
		page := text(read(t, dir, name))
		assert.Contains(t, page, "no mark", name)
		assert.NotContains(t, page, "reached:", name)
	}
	assert.Contains(t, text(read(t, dir, "01.html")), NoMarkWords)
	assert.NotContains(t, text(read(t, dir, "01.html")), "longest 5")
}
