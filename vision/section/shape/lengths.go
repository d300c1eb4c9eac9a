package shape

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
	"crimprule/vision/uncertainty"
)

// lowest is the lowest point of the outer face. The parabola through the whole face says it best, up to the face's ends:
// beyond them corners round off or burrs begin. A place that lies lower by more than scatter explains counts as it is.
func (o *outline) lowest() raster.Point {
	from, to := o.sides[0].floorEnd, o.sides[1].floorEnd
	low := raster.Point{Y: o.floor.at(0)}
	for i, s := range o.sides {
		x := o.at(s.floorEnd).X - s.sign*0.04
		if o.sides[i].burr {
			x = o.at(s.floorEnd).X - s.sign*0.02
		}
		if y := o.floor.at(x); y < low.Y {
			low = raster.Point{X: x, Y: y}
		}
	}
	in := o.steps(wideMM)
	dip, _ := o.extreme(from+in, to-in, raster.Point{Y: -1}, wideMM)
	if low.Y-dip.Y > o.beyond() {
		return dip
	}
	return low
}

// beyond is by how much a local fit must leave the general run to be a shape of its own.
func (o *outline) beyond() float64 { return 0.002 + 3*o.edge.averaged(o.sigma, 2*wideMM, 1.5) }

// lengths takes what the outer outline alone shows.
func (o *outline) lengths(f *Found) {
	top := o.top()
	f.Values[record.CrimpHeight] = o.length(top.Y, raster.Point{X: top.X}, top, top.X-o.low.X)
	left, right := o.widest(0), o.widest(1)
	var roots []uncertainty.Component
	for i, s := range o.sides {
		if s.burr {
			roots = append(roots, part([]string{"left root", "right root"}[i], "where the burr leaves the wall, and the line that reaches there",
				math.Hypot(2*readingMM, o.edge.averaged(o.sigma, wideMM, 2))))
		}
	}
	f.Values[record.CrimpWidth] = o.length(right.X-left.X, left, raster.Point{X: right.X, Y: left.Y}, right.Y-left.Y, roots...)
	keys := [2][2]record.Key{{record.BurrHeightLeft, record.BurrWidthLeft}, {record.BurrHeightRight, record.BurrWidthRight}}
	for i, s := range o.sides {
		f.Values[keys[i][0]], f.Values[keys[i][1]] = o.burr(s)
		foot := func(y float64) raster.Point { return o.frame.From(raster.Point{X: s.wall.at(y), Y: y}) }
		f.Walls[i] = [2]raster.Point{foot(0), foot(0.5 * o.height)}
	}
	f.FloorLine = [2]raster.Point{o.frame.From(raster.Point{X: left.X}), o.frame.From(raster.Point{X: right.X})}
	if o.notch.depth > 0 {
		f.Notch = o.frame.From(o.at(o.notch.deepest))
	}
}

// top is the highest point.
func (o *outline) top() raster.Point {
	n := len(o.p)
	from := o.nearest(raster.Point{X: o.halfWidth, Y: 0.7 * o.height})
	to := o.nearest(raster.Point{X: -o.halfWidth, Y: 0.7 * o.height})
	if o.notch.depth == 0 {
		best, _ := o.extreme(from, to, raster.Point{Y: 1}, wideMM)
		return best
	}
	right, _ := o.extreme(from, wrap(o.notch.from+o.steps(0.1), n), raster.Point{Y: 1}, wideMM)
	left, _ := o.extreme(wrap(o.notch.to-o.steps(0.1), n), to, raster.Point{Y: 1}, wideMM)
	if left.Y > right.Y {
		return left
	}
	return right
}

// widest is the outermost point of side i. Beside a burr only the wall counts, down to the burr's root; the wall's end
// there is had from a line fitted to the stretch above, since the outline at the root already turns into the burr.
func (o *outline) widest(i int) raster.Point {
	s := o.sides[i]
	dir := int(s.sign)
	upper, lower := o.nearest(raster.Point{X: s.sign * o.halfWidth, Y: 0.8 * o.height}), s.floorEnd
	if s.burr {
		lower = s.wallEnd + dir*o.steps(wideMM)
	}
	from, to := upper, lower
	if dir > 0 {
		from, to = lower, upper
	}
	best, _ := o.extreme(from, to, raster.Point{X: s.sign}, wideMM)
	if !s.burr {
		return best
	}
	var y, x []float64
	for k := o.steps(0.03); k < o.steps(0.03+wideMM); k++ {
		p := o.at(s.wallEnd + dir*k)
		y, x = append(y, p.Y), append(x, p.X)
	}
	if foot := fitLine(y, x).at(y[0]); s.sign*foot > s.sign*best.X {
		return raster.Point{X: foot, Y: y[0]}
	}
	return best
}

// length is an extent of the outer outline between two level lines: both edges move with the edge's place and each
// with its own points; the turn works over the distance between the two points that is square to the length.
func (o *outline) length(v float64, a, b raster.Point, lever float64, more ...uncertainty.Component) Value {
	return newValue(v, o.frame.From(a), o.frame.From(b), append(more,
		part("edge", "place of the outer edge as a whole, at both ends", 2*o.edge.Systematic),
		part("points", "scatter of the outline at both ends", math.Sqrt2*o.edge.averaged(o.sigma, 2*wideMM, 1.5)),
		part("angle", "turn of the floor's line", lever*o.frame.UAngleRad/2),
		part("definition", "two readings of the same outline", readingMM))...)
}

// burr is height and width of the flash at one corner: 0 where there is none, and then u is what would be missed.
func (o *outline) burr(s side) (height, width Value) {
	foot := raster.Point{X: s.wall.at(0)}
	if !s.burr {
		seen := o.leastBurr()
		least := part("sight", "a burr that would not be told from the corner's scatter", seen/2)
		return newValue(0, o.frame.From(foot), o.frame.From(foot), least), newValue(0, o.frame.From(foot), o.frame.From(foot), least)
	}
	common := func(v, lever float64, a, b raster.Point, more ...uncertainty.Component) Value {
		return newValue(math.Max(0, v), o.frame.From(a), o.frame.From(b), append(more,
			part("points", "scatter of the outline at the burr's rim", o.sigma),
			part("edge", "rim and line move alike with the edge's place; a sharp rim less", o.edge.Systematic),
			part("angle", "turn of the floor's line", lever*o.frame.UAngleRad/2),
			part("definition", "two readings of the same outline", readingMM))...)
	}
	tip, _ := o.extreme(s.lowest, s.lowest, raster.Point{Y: -1}, narrowMM)
	height = common(-tip.Y, tip.X-o.low.X, raster.Point{X: tip.X}, tip)
	out, _ := o.extreme(s.furthest, s.furthest, raster.Point{X: s.sign}, narrowMM)
	wallX := s.wall.at(out.Y)
	width = common(s.sign*(out.X-wallX), 0, raster.Point{X: wallX, Y: out.Y}, out,
		part("wall", "how far the wall is from straight", s.wall.spread))
	return height, width
}
