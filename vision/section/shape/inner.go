package shape

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
	"crimprule/vision/uncertainty"
)

// points is the part of a length's uncertainty that single points of the cavity's border bring; share is how much of
// their scatter is left.
func (c *cavity) points(share float64) uncertainty.Component {
	return part("points", "scatter of the cavity's border", share*c.edge.Random)
}

func defined(standard float64) uncertainty.Component {
	return part("definition", "two readings of the same outline", standard)
}

// openingValue is the width of the shortest link; wings that touch have 0, and what they would be apart unseen is u.
func (c *cavity) openingValue(o *outline) Value {
	a, b := o.frame.From(c.link[0]), o.frame.From(c.link[1])
	if c.opening == 0 {
		return newValue(0, a, b, part("touch", "wings nearer than 4 um touch", touchMM/4))
	}
	return newValue(c.opening, a, b,
		part("edge", "place of the edge as a whole, on both sides of the channel", 2*c.edge.Systematic),
		c.points(math.Sqrt2*c.edge.averaged(1, 0.024, 1)), defined(readingMM))
}

// extremeOf is how many standard deviations of single places the least of the floor's some thirty independent ones lies
// below their mean (order statistics of the normal distribution: 2.04 for 30).
const extremeOf = 2

// thickness is the least distance from the floor's inner face between the bottom corners to its outer face.
func (c *cavity) thickness(o *outline) Value {
	outer := o.face()
	best, at, to := math.Inf(1), raster.Point{}, raster.Point{}
	for i := 2; i+2 < len(c.floor); i++ {
		a, b, q := c.floor[i-2], c.floor[i+2], c.floor[i]
		if math.Abs(math.Atan2(b.Y-a.Y, b.X-a.X)) > bottomTurnRad && !c.central(i) {
			continue
		}
		if n, d := nearestOnLine(outer, q); d < best {
			best, at, to = d, q, n
		}
	}
	if math.IsInf(best, 1) {
		return Value{Missing: "the cavity's lower border has no level part between the bottom corners"}
	}
	return newValue(best, o.frame.From(at), o.frame.From(to),
		part("inner edge", "place of the cavity's border as a whole", c.edge.Systematic),
		part("outer edge", "place of the outer edge as a whole", o.edge.Systematic),
		c.points(extremeOf*c.edge.averaged(1, 2*floorMM, 1.5)),
		part("outer points", "scatter of the floor's outer face", o.edge.averaged(o.sigma, 2*wideMM, 1.5)),
		defined(readingMM))
}

// central tells whether floor point i lies in the middle part of the floor, where a steep bit is a dent and no corner.
func (c *cavity) central(i int) bool {
	a, b := c.floor[0], c.floor[len(c.floor)-1]
	t := (c.floor[i].X - a.X) / math.Max(b.X-a.X, 1e-9)
	return t > 0.1 && t < 0.9
}

// face is the floor's outer face, smoothed, burrs left out; a burr's root is bridged by the floor's line.
func (o *outline) face() []raster.Point {
	from, to := o.sides[0].floorEnd, o.sides[1].floorEnd
	n := wrap(to-from, len(o.p))
	ext := o.steps(0.15)
	first, last := 0, n
	if !o.sides[0].burr {
		first -= ext
	}
	if !o.sides[1].burr {
		last += ext
	}
	var out []raster.Point
	for k := first; k <= last; k += max(1, o.steps(0.02)) {
		q, _ := o.smoothed(from+k, wideMM)
		if run := o.floor.at(q.X); math.Abs(q.Y-run) < o.beyond() {
			q.Y = run
		}
		out = append(out, q)
	}
	if o.sides[0].burr {
		out = append([]raster.Point{{X: -1.2 * o.halfWidth}}, out...)
	}
	if o.sides[1].burr {
		out = append(out, raster.Point{X: 1.2 * o.halfWidth})
	}
	return out
}

// cornerMM is the usual radius of a cavity's bottom corner: over it the direction by which floor and wall are told turns.
// Common practice, no source.
const cornerMM = 0.1

// tipFloor is the shortest distance from a wing's tip to the floor's inner face; 0 where the tip stands on it.
func (c *cavity) tipFloor(o *outline, w wing) Value {
	at, d := nearestOnLine(c.floor, w.tip)
	corner := 0.
	if last := len(c.floor) - 1; at == c.floor[0] || at == c.floor[last] {
		corner = cornerMM * math.Hypot(c.edge.Random*math.Sqrt2/(2*steepMM), 0.03)
	}
	parts := []uncertainty.Component{
		part("edge", "place of the cavity's border as a whole, at both ends", 2*c.edge.Systematic),
		c.points(math.Hypot(c.edge.averaged(1, 0.04, 1.5), c.edge.averaged(1, 2*floorMM, 1.5))), defined(2 * readingMM),
		c.rim(w), part("corner", "where in the bottom corner's round the floor begins", corner),
	}
	if w.onWall && d < 0.03 {
		return newValue(0, o.frame.From(w.tip), o.frame.From(w.tip), part("touch", "the tip stands on the floor", touchMM/4))
	}
	return newValue(d, o.frame.From(w.tip), o.frame.From(at), parts...)
}

// tipDifference is how much higher one tip is than the other.
func (c *cavity) tipDifference(o *outline) Value {
	l, r := c.wings[0].tip, c.wings[1].tip
	return newValue(math.Abs(l.Y-r.Y), o.frame.From(l), o.frame.From(raster.Point{X: l.X, Y: r.Y}),
		c.points(math.Sqrt2*c.edge.averaged(1, 0.04, 1.5)), part("angle", "turn of the floor's line", (l.X-r.X)*o.frame.UAngleRad/2), defined(2*readingMM),
		c.rim(c.wings[0]), c.rim(c.wings[1]))
}

// rim is what blur takes off a tip that is a corner: about the width over which points of the edge go together.
func (c *cavity) rim(w wing) uncertainty.Component {
	if !w.sharp {
		return uncertainty.Component{}
	}
	return part("rim", "a sharp tip looks rounded off", c.edge.Correlation/3)
}

// symmetry divides the cavity by the line through the contact, square to the floor.
func (c *cavity) symmetry(o *outline, f *Found) {
	var border [2]float64
	for _, p := range c.pieces {
		for k, sign := range []float64{-1, 1} {
			half := clipped(p, c.contact.X, sign)
			if len(half) < 3 {
				continue
			}
			area := math.Abs(raster.Area(half))
			border[k] += raster.Length(half)
			given := make([]raster.Point, len(half))
			for i, q := range half {
				given[i] = o.frame.From(q)
			}
			if k == 0 {
				f.AreaLeft, f.CavityLeft = f.AreaLeft+area, append(f.CavityLeft, given)
			} else {
				f.AreaRight, f.CavityRight = f.AreaRight+area, append(f.CavityRight, given)
			}
		}
	}
	l, r := f.AreaLeft, f.AreaRight
	if math.Min(l, r) <= 0 {
		f.Values[record.Symmetry] = Value{Missing: "the line through the wings' contact leaves one side of the cavity empty"}
		return
	}
	ratio := math.Min(l, r) / math.Max(l, r)
	// d(ln ratio) of an area dA that changes sides is dA (1/l + 1/r).
	swap := ratio * (1/l + 1/r)
	drop := c.contact.Y - c.floorBelow()
	uX := math.Hypot(math.Hypot(readingMM, c.edge.Random/math.Sqrt2), 2*c.lean*c.edge.Systematic)
	foot := raster.Point{X: c.contact.X, Y: c.floorBelow()}
	f.Values[record.Symmetry] = newValue(ratio, f.Contact, o.frame.From(foot),
		part("contact", "where across the seam the wings touch", swap*drop*uX),
		part("angle", "turn of the dividing line about the contact", swap*drop*drop/2*o.frame.UAngleRad/2),
		part("edge", "place of the cavity's border as a whole", ratio*(border[0]/l-border[1]/r)*c.edge.Systematic),
		part("points", "scatter of the border", swap/2*c.edge.Random*math.Sqrt(c.edge.together()*(border[0]+border[1])/2)),
		defined(0.0008))
}

// floorBelow is the floor's height below the contact.
func (c *cavity) floorBelow() float64 {
	best, y := math.Inf(1), 0.
	for _, q := range c.floor {
		if d := math.Abs(q.X - c.contact.X); d < best {
			best, y = d, q.Y
		}
	}
	return y
}

// clipped is the part of a closed polygon on one side of the line x (sign -1: left), after Sutherland and Hodgman
// (Communications of the ACM 17 (1974) 32).
func clipped(p []raster.Point, x, sign float64) []raster.Point {
	var out []raster.Point
	for i, a := range p {
		b := p[(i+1)%len(p)]
		da, db := sign*(a.X-x), sign*(b.X-x)
		if da >= 0 {
			out = append(out, a)
		}
		if da*db < 0 {
			out = append(out, between(a, b, da/(da-db)))
		}
	}
	return out
}
