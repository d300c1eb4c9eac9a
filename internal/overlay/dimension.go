package overlay

import (
	"image"
	"math"

	"crimprule/vision/record"
)

// dimension is a measured length as draughtsmen draw it: a line with arrow heads, and extension lines from the measured
// points to it. All in the drawing.
type dimension struct {
	key        record.Key
	a, b       record.Point // the line's ends
	extensions [][2]record.Point
}

func (m dimension) middle() record.Point {
	return record.Point{X: (m.a.X + m.b.X) / 2, Y: (m.a.Y + m.b.Y) / 2}
}

// The measures of dimension lines, in sheet units.
const (
	arrowLength = 15
	arrowWidth  = 9
	outside     = 34 // from the part to a dimension line beside it
	beyond      = 8  // that extension lines run past the dimension line
	apart       = 5  // that they keep from the part
)

// mayBeNothing are lengths that are drawn only where there is something.
var mayBeNothing = map[record.Key]bool{record.WingOpening: true, record.BurrHeightLeft: true, record.BurrHeightRight: true,
	record.BurrWidthLeft: true, record.BurrWidthRight: true}

// lengths picks the marks that get a dimension line: one for each measured length, the first where it has several.
func (d *sheet) lengths() []record.Mark {
	var all []record.Mark
	for _, m := range d.marks {
		value, measured := d.rec.Measured[m.Key]
		if m.Kind == record.MarkLength && measured && !d.drawn[m.Key] && len(m.Points) > 1 && (value.Value > 0 || !mayBeNothing[m.Key]) {
			d.drawn[m.Key] = true
			all = append(all, m)
		}
	}
	return all
}

func (d *sheet) dimensions(lengths []record.Mark) []dimension {
	all := make([]dimension, len(lengths))
	for i, m := range lengths {
		all[i] = d.dimension(m.Key, d.toPanel(m.Points[0]), d.toPanel(m.Points[len(m.Points)-1]))
	}
	return all
}

// dimension places the line: the size of the whole part beside it and turned with it, burrs just outside them, all else
// where it was measured.
func (d *sheet) dimension(key record.Key, a, b record.Point) dimension {
	switch key {
	case record.CrimpHeight:
		return d.beside(key, a, b, d.right, d.extreme(d.right, a, b)+outside*d.unit)
	case record.CrimpWidth:
		return d.beside(key, a, b, d.up, d.extreme(d.up, a, b)+outside*d.unit)
	case record.BurrHeightLeft:
		return d.beside(key, a, b, turned(d.right), farther(turned(d.right), a, b)+outside*d.unit)
	case record.BurrHeightRight:
		return d.beside(key, a, b, d.right, farther(d.right, a, b)+outside*d.unit)
	case record.BurrWidthLeft, record.BurrWidthRight:
		down := turned(d.up)
		return d.beside(key, a, b, down, d.extreme(down, a, b)+outside*d.unit)
	}
	return dimension{key: key, a: a, b: b}
}

// beside moves a dimension line to where the projection on the direction out is at; the line stands square to out, so
// that its length is the extent of the two points in that direction.
func (d *sheet) beside(key record.Key, a, b, out record.Point, at float64) dimension {
	end := func(p record.Point) record.Point { return moveBy(p, out, at-dot(p, out)) }
	m := dimension{key: key, a: end(a), b: end(b)}
	for _, p := range []record.Point{a, b} {
		if at-dot(p, out) > (apart+beyond)*d.unit {
			m.extensions = append(m.extensions, [2]record.Point{moveBy(p, out, apart*d.unit), moveBy(end(p), out, beyond*d.unit)})
		}
	}
	return m
}

func dot(a, b record.Point) float64      { return a.X*b.X + a.Y*b.Y }
func turned(p record.Point) record.Point { return record.Point{X: -p.X, Y: -p.Y} }

func farther(out, a, b record.Point) float64 { return math.Max(dot(a, out), dot(b, out)) }

// extreme is how far the sleeve and the two points reach in a direction.
func (d *sheet) extreme(out, a, b record.Point) float64 {
	most := farther(out, a, b)
	d.each(record.MarkSleeve, func(_ record.Mark, points []record.Point) {
		for _, p := range points {
			most = math.Max(most, dot(p, out))
		}
	})
	return most
}

// drawDimension draws the line. Where it is too short for two arrow heads they point at it from outside.
func (d *sheet) drawDimension(m dimension) {
	length := math.Hypot(m.b.X-m.a.X, m.b.Y-m.a.Y)
	along := d.up
	if length > 0 {
		along = record.Point{X: (m.b.X - m.a.X) / length, Y: (m.b.Y - m.a.Y) / length}
	}
	across := record.Point{X: -along.Y, Y: along.X}
	line := []record.Point{m.a, m.b}
	heads := 1.0
	if length < 2.6*arrowLength*d.unit {
		heads = -1
		line = []record.Point{moveBy(m.a, along, -2*arrowLength*d.unit), moveBy(m.b, along, 2*arrowLength*d.unit)}
	}
	var parts [][]record.Point
	for _, e := range m.extensions {
		parts = append(parts, e[:])
	}
	if m.extensions == nil { // short end strokes show where it was measured
		for _, p := range []record.Point{m.a, m.b} {
			parts = append(parts, []record.Point{moveBy(p, across, -10*d.unit), moveBy(p, across, 10*d.unit)})
		}
	}
	d.inked(visible(append(parts, line), d.img.Bounds()), 1.5)
	d.arrow(m.a, along, heads)
	d.arrow(m.b, along, -heads)
}

func visible(lines [][]record.Point, box image.Rectangle) [][]record.Point {
	var seen [][]record.Point
	for _, l := range lines {
		seen = append(seen, clipped(l, box.Inset(-20))...)
	}
	return seen
}

// arrow fills an arrow head with its tip at p; its body lies in the direction along times sign.
func (d *sheet) arrow(p, along record.Point, sign float64) {
	base := moveBy(p, along, sign*arrowLength*d.unit)
	across := record.Point{X: -along.Y, Y: along.X}
	head := func(grow float64) []record.Point {
		return []record.Point{moveBy(p, along, -sign*grow*d.unit), moveBy(base, across, (arrowWidth/2+grow)*d.unit),
			moveBy(base, across, -(arrowWidth/2+grow)*d.unit)}
	}
	d.fill(head(0), image.NewUniform(print1))
}
