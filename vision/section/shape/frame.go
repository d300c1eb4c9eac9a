package shape

import (
	"errors"
	"fmt"
	"math"

	"crimprule/vision/section/raster"
)

// Frame is the level frame: Origin lies on the floor's line in the middle between the side walls, its x axis at
// AngleRad counterclockwise in the input's frame. UAngleRad is expanded (k = 2).
type Frame struct {
	Origin              raster.Point
	AngleRad, UAngleRad float64
}

// To takes a point of the input's frame to the level frame.
func (f Frame) To(p raster.Point) raster.Point {
	return rotate(raster.Point{X: p.X - f.Origin.X, Y: p.Y - f.Origin.Y}, -f.AngleRad)
}

// From takes a point of the level frame to the input's frame.
func (f Frame) From(p raster.Point) raster.Point {
	q := rotate(p, f.AngleRad)
	return raster.Point{X: q.X + f.Origin.X, Y: q.Y + f.Origin.Y}
}

// flatShare is the share of the half width within which the floor's outer face is taken to be straight or evenly bowed:
// corner radii and burr roots of crimps stay outside it. Common practice, no source.
const flatShare = 0.62

// maxTurnRad is the largest turn that is mended here.
const maxTurnRad = 0.35

// outline is the outer outline in the level frame.
type outline struct {
	curve
	frame             Frame
	edge              Edge
	sigma             float64 // standard deviation of single points: the larger of what was told and what is seen
	notch             bay     // the bay between the lobes; depth 0 where there is none
	halfWidth, height float64 // rough
	floor             parabola
	sides             [2]side      // left, right
	low               raster.Point // the lowest point of the outer face, burrs left out
}

// level finds the frame: the floor's outer face between the corners is fitted by a parabola about the middle between
// the walls, whose slope there is the part's turn; a bow of the floor does not turn it.
func level(c curve, e Edge) (*outline, error) {
	o := &outline{curve: c, edge: e}
	for range 8 {
		mid := o.extents()
		if o.halfWidth <= 0 {
			return nil, errors.New("the outline shows no two side walls between a fifth and half of its height; hand over the outline with its floor down")
		}
		x, y := o.flat(mid)
		if float64(len(x))*o.step < o.halfWidth {
			return nil, fmt.Errorf("a floor's outer face shows on %.2f mm of %.2f mm only; hand over the outline with its floor down",
				float64(len(x))*o.step, 2*o.halfWidth)
		}
		o.floor = fitParabola(x, y)
		turn := math.Atan(o.floor.b)
		o.move(raster.Point{X: mid, Y: o.floor.a}, turn)
		if math.Abs(o.frame.AngleRad) > maxTurnRad {
			return nil, fmt.Errorf("the floor is turned by %.0f degrees, more than can be mended here; hand over the outline with its floor down",
				o.frame.AngleRad*180/math.Pi)
		}
		if math.Abs(turn) < 1e-6 {
			break
		}
	}
	o.floor.a, o.floor.b = 0, 0
	o.sigma = math.Max(e.Random, o.floor.spread)
	o.sides = [2]side{o.side(-1), o.side(1)}
	o.low = o.lowest()
	o.floor.a = -o.low.Y
	for i := range o.sides {
		o.sides[i].wall.a += o.sides[i].wall.b * o.low.Y
	}
	o.move(raster.Point{Y: o.low.Y}, 0)
	o.low.Y = 0
	o.frame.UAngleRad = 2 * o.angleStandard()
	return o, nil
}

// move makes origin the new origin and turns the axes by angle.
func (o *outline) move(origin raster.Point, angle float64) {
	o.frame.Origin = o.frame.From(origin)
	o.frame.AngleRad += angle
	for i, p := range o.p {
		o.p[i] = rotate(raster.Point{X: p.X - origin.X, Y: p.Y - origin.Y}, -angle)
	}
}

// extents finds the notch and the size, and returns the middle between the side walls; burrs at the floor's corners
// do not reach the heights where the walls are looked at.
func (o *outline) extents() (mid float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range o.p {
		lo, hi = math.Min(lo, p.Y), math.Max(hi, p.Y)
	}
	o.height = hi - lo
	o.notch = bay{}
	for _, b := range bays(o.curve) {
		from, to := o.at(b.from), o.at(b.to)
		if from.X > to.X && (from.Y+to.Y)/2 > lo+0.6*o.height && b.depth > o.notch.depth {
			o.notch = b
		}
	}
	if o.notch.depth < 0.004*o.height { // a lobe's dent, no notch
		o.notch = bay{}
	}
	var left, right []float64
	for i, p := range o.p {
		if p.Y < lo+0.2*o.height || p.Y > lo+0.5*o.height || o.inNotch(i) {
			continue
		}
		if d := o.at(i+3).Y - o.at(i-3).Y; d > 0 { // counterclockwise: up on the right
			right = append(right, p.X)
		} else {
			left = append(left, p.X)
		}
	}
	o.halfWidth = (median(right) - median(left)) / 2
	return (median(right) + median(left)) / 2
}

// inNotch tells whether point i belongs to the bay between the lobes (and the open cavity behind it).
func (o *outline) inNotch(i int) bool {
	if o.notch.depth == 0 {
		return false
	}
	n := len(o.p)
	return wrap(i-o.notch.from, n) <= o.notch.to-o.notch.from
}

// flat lists the floor's outer face about the middle: points that run to the right within flatShare of the half width.
func (o *outline) flat(mid float64) (x, y []float64) {
	lo := math.Inf(1)
	for _, p := range o.p {
		if math.Abs(p.X-mid) < flatShare*o.halfWidth {
			lo = math.Min(lo, p.Y)
		}
	}
	for i, p := range o.p {
		if math.Abs(p.X-mid) > flatShare*o.halfWidth || p.Y > lo+0.3*o.height || o.inNotch(i) {
			continue
		}
		if a, b := o.at(i-5), o.at(i+5); b.X-a.X > math.Abs(b.Y-a.Y) {
			x, y = append(x, p.X-mid), append(y, p.Y)
		}
	}
	return x, y
}

// angleStandard is the standard uncertainty of the turn, radians: that of a line fitted to the floor's points, which
// go together over the edge's correlation length (slope's variance 12 s² / (n L²)), and the bow's asymmetry, whose ends
// a reader may take readingMM higher or lower.
func (o *outline) angleStandard() float64 {
	l := 2 * flatShare * o.halfWidth
	n := math.Max(3, l/math.Max(o.edge.together(), o.step))
	return math.Hypot(o.sigma*math.Sqrt(12/n), readingMM) / l
}

// together is the length over which the errors of single points average as one: twice the correlation length (the
// integral scale of an exponential correlation, both ways).
func (e Edge) together() float64 { return 2 * math.Max(e.Correlation, stepMM/2) }

// averaged is what is left of the single points' error after a fit over a length; gain is the fit's own factor (1 for
// a mean, 1.5 for the middle of a parabola).
func (e Edge) averaged(sigma, lengthMM, gain float64) float64 {
	return math.Min(sigma, gain*sigma*math.Sqrt(e.together()/lengthMM))
}
