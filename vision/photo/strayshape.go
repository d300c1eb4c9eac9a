package photo

import (
	"math"

	"crimprule/vision/subpixel"
)

// strayShape is what the search knows of the part, in mm of its frame: the insulation is cut at cut, the sleeve
// reaches from rear to front.
type strayShape struct {
	cut          float64 // where the insulation ends
	rear, front  float64
	wire, bundle float64                 // half the insulation's width; radius of the bare conductor
	left, right  func(x float64) float64 // y of the sleeve's sides; right is negative
}

// half is how far the outline reaches from the axis at x on a side. It is widened along x so that the insulation's
// cut face and the sleeve's ends lie well inside.
func (p strayShape) half(x float64, s side) float64 {
	const margin = 0.25
	h := p.bundle
	if x < p.cut+margin {
		h = math.Max(h, p.wire)
	}
	if x > p.rear-margin {
		if s == left {
			return math.Max(h, p.left(x))
		}
		return math.Max(h, -p.right(x))
	}
	return h
}

// beyond is how far a place lies outside the outline, across; negative within.
func (p strayShape) beyond(q subpixel.Point) float64 {
	if q.Y >= 0 {
		return q.Y - p.half(q.X, left)
	}
	return -q.Y - p.half(q.X, right)
}

// nearestRoot is the place nearest to q at which a stray can have its root: on the bare conductor or in the brush, up
// to share of their half width from the axis.
func (p strayShape) nearestRoot(q subpixel.Point, share float64) subpixel.Point {
	const brushMM = 1.5
	within := func(x0, x1, h float64) subpixel.Point {
		return subpixel.Point{X: min(max(q.X, x0), x1), Y: min(max(q.Y, -h), h)}
	}
	gap := within(p.cut, p.rear, share*p.bundle)
	brush := within(p.front, p.front+brushMM, share*math.Max(p.bundle, 0.8*p.left(p.front)))
	if apart(q, gap) < apart(q, brush) {
		return gap
	}
	return brush
}

func apart(a, b subpixel.Point) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
