package overlay

import (
	"cmp"
	"image"
	"image/color"
	"math"
	"slices"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// callout is a label in a column beside the panel. What it is about is at the label's anchor.
type callout struct {
	label
	limits string
}

// calloutHeight is the room that a label takes in its column, in sheet units.
const calloutHeight = 92

// callouts makes the labels of all dimension lines and of all cracks.
func (d *sheet) callouts(dims []dimension) []callout {
	var all []callout
	for _, m := range dims {
		f := d.results[m.key]
		all = append(all, callout{label{name: wording.Name(d.rec.View, m.key), value: wording.Quantity(d.rec.Measured[m.key]), result: f.Result,
			anchor: d.anchor(m)}, wording.Limits(f.Min, f.Max)})
	}
	all = append(all, d.crackCallouts()...)
	d.arrange(all)
	return all
}

// anchor is where a dimension line's leader ends: in its middle; of the width towards the lower end of the line, since
// from there a leader to the rim does not run back over the part.
func (d *sheet) anchor(m dimension) record.Point {
	if m.key != record.CrimpWidth {
		return m.middle()
	}
	low, high := m.b, m.a
	if m.a.Y > m.b.Y {
		low, high = m.a, m.b
	}
	return record.Point{X: low.X + (high.X-low.X)/5, Y: low.Y + (high.Y-low.Y)/5}
}

// crackLabels is how many cracks get a label; with more of them the columns would not hold all values. The foot tells of
// all.
const crackLabels = 4

// crackCallouts label cracks with their lengths, where the record has as many as the marks.
func (d *sheet) crackCallouts() []callout {
	var all []callout
	d.each(record.MarkCrack, func(_ record.Mark, p []record.Point) {
		all = append(all, callout{label: label{name: "crack", value: "seen", anchor: p[len(p)/2]}})
	})
	if len(all) == len(d.rec.Cracks) {
		for i, c := range d.rec.Cracks {
			all[i].value = wording.Quantity(record.Value{Value: c.LengthMM, U: c.U, Unit: "mm"})
			all[i].name = "crack in the " + wording.Clean(c.Where)
		}
	}
	return all[:min(len(all), crackLabels)]
}

// arrange gives each label a column and a height: the left half of the places goes to the left, and in a column labels
// are moved apart as little as it can be.
func (d *sheet) arrange(all []callout) {
	slices.SortStableFunc(all, func(a, b callout) int {
		return cmp.Or(cmp.Compare(a.anchor.X, b.anchor.X), cmp.Compare(a.anchor.Y, b.anchor.Y), cmp.Compare(a.name, b.name))
	})
	middle := float64(d.panel.Min.X+d.panel.Max.X) / 2
	half := 0
	for half < len(all) && all[half].anchor.X < middle {
		half++
	}
	room := max(1, int(float64(d.columnBottom()-d.columnTop())/(calloutHeight*d.unit)))
	half = max(min(half, room), len(all)-room)
	for i := range all {
		all[i].left = i < half
	}
	for _, column := range [][]callout{all[:half], all[half:]} {
		slices.SortStableFunc(column, func(a, b callout) int { return cmp.Compare(a.anchor.Y, b.anchor.Y) })
		labels := make([]label, len(column))
		for i, c := range column {
			labels[i] = c.label
		}
		stack(labels, float64(d.columnTop()), float64(d.columnBottom()), calloutHeight*d.unit)
		for i := range column {
			column[i].y = labels[i].y
		}
	}
}

func (d *sheet) columnTop() int    { return d.n(sheetHeader) }
func (d *sheet) columnBottom() int { return d.foot }

// drawLeaders draws the line from each label to its place. They lie below the dimension lines.
func (d *sheet) drawLeaders(all []callout) {
	for _, c := range all {
		x := float64(d.n(sheetColumn + 6))
		if !c.left {
			x = float64(d.img.Bounds().Dx()) - x
		}
		line := []record.Point{{X: x, Y: c.y}, c.anchor}
		seen := visible([][]record.Point{line}, d.img.Bounds())
		d.stroke(seen, 2.8*d.unit, halo)
		d.stroke(seen, 1.2*d.unit, print2)
		d.stroke([][]record.Point{{c.anchor}}, 7*d.unit, print2)
	}
}

// drawCallout writes a label: its name, its value and, where it is judged, the result.
func (d *sheet) drawCallout(c callout) {
	border, width := d.n(sheetBorder), d.n(sheetColumn-sheetBorder-8)
	left := border
	if !c.left {
		left = d.img.Bounds().Dx() - border - width
	}
	put := func(f faces, bold bool, y float64, hue color.RGBA, text string) {
		face := f.regular
		if bold {
			face = f.bold
		}
		text = fitting(face, text, width)
		x := left
		if c.left {
			x = left + width - textWidth(face, text)
		}
		d.text(face, x, int(math.Round(c.y+y*d.unit)), hue, text)
	}
	shift := 0.0
	if c.result != "" {
		shift = -14
	}
	put(d.faces, false, -9+shift, print2, c.name)
	put(d.large, true, 18+shift, print1, c.value)
	if c.result == "" {
		return
	}
	word := wording.Result(c.result)
	if c.limits != "" {
		word += " (" + c.limits + ")"
	}
	at := image.Pt(left, int(math.Round(c.y+44*d.unit+shift*d.unit)))
	if c.left {
		at.X = left + width - d.resultWidth(word, width)
	}
	d.drawResult(c.result, word, at, width)
}
