package shape

import (
	"fmt"
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// curve is a closed polygon with points at even steps, counterclockwise (y up).
type curve struct {
	p    []raster.Point
	step float64
}

// stepMM is the step that curves are resampled to: below the finest optical resolution of a bench microscope's low
// power objectives, so nothing that an outline can show is lost.
const stepMM = 0.004

func newCurve(p []raster.Point, name string) (curve, error) {
	if err := checked(p, name); err != nil {
		return curve{}, err
	}
	length, area := raster.Length(p), raster.Area(p)
	if length == 0 || math.Abs(area) < 1e-3*length*length/(4*math.Pi) {
		return curve{}, fmt.Errorf("the %s encloses %.2g mm² in %.2g mm of border: no outline; follow the edge again", name, math.Abs(area), length)
	}
	if area < 0 {
		p = slices.Clone(p)
		slices.Reverse(p)
	}
	n := min(max(int(length/stepMM), 64), 20000)
	return resample(p, n, length), nil
}

// resample puts n points on the polygon at even distances along it.
func resample(p []raster.Point, n int, length float64) curve {
	c := curve{p: make([]raster.Point, 0, n), step: length / float64(n)}
	at := 0.
	for i, a := range p {
		b := p[(i+1)%len(p)]
		l := math.Hypot(b.X-a.X, b.Y-a.Y)
		for s := float64(len(c.p)) * c.step; s < at+l && len(c.p) < n; s += c.step {
			c.p = append(c.p, between(a, b, (s-at)/l))
		}
		at += l
	}
	return c
}

func between(a, b raster.Point, t float64) raster.Point {
	return raster.Point{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)}
}

func dist(a, b raster.Point) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }

// at is the point i steps along, i of any size and sign.
func (c curve) at(i int) raster.Point { return c.p[wrap(i, len(c.p))] }

func wrap(i, n int) int { return ((i % n) + n) % n }

// steps is a length in steps, at least one.
func (c curve) steps(lengthMM float64) int { return max(1, int(math.Round(lengthMM/c.step))) }

// heading is the direction of travel at i, radians, over a length either side that noise does not turn.
func (c curve) heading(i int, halfMM float64) float64 {
	k := min(c.steps(halfMM), len(c.p)/8)
	a, b := c.mean(i-k, max(1, k/2)), c.mean(i+k, max(1, k/2))
	return math.Atan2(b.Y-a.Y, b.X-a.X)
}

// mean is the centre of the points about i, k steps either side.
func (c curve) mean(i, k int) raster.Point {
	var s raster.Point
	for j := i - k; j <= i+k; j++ {
		q := c.at(j)
		s.X, s.Y = s.X+q.X, s.Y+q.Y
	}
	n := float64(2*k + 1)
	return raster.Point{X: s.X / n, Y: s.Y / n}
}

// smoothed is the curve's own form at i: a parabola fitted to the points halfMM either side, deaf to single blunders,
// in the axes of the curve's heading (local regression: Cleveland, JASA 74 (1979) 829). spread is the scatter about it.
func (c curve) smoothed(i int, halfMM float64) (q raster.Point, spread float64) {
	k := min(c.steps(halfMM), len(c.p)/8)
	m := c.at(i)
	h := c.heading(i, halfMM)
	cos, sin := math.Cos(h), math.Sin(h)
	t, s := make([]float64, 0, 2*k+1), make([]float64, 0, 2*k+1)
	for j := i - k; j <= i+k; j++ {
		d := c.at(j)
		dx, dy := d.X-m.X, d.Y-m.Y
		t, s = append(t, dx*cos+dy*sin), append(s, dy*cos-dx*sin)
	}
	fit := fitParabola(t, s)
	return raster.Point{X: m.X - fit.a*sin, Y: m.Y + fit.a*cos}, fit.spread
}

// rotate turns points by angle about the origin.
func rotate(p raster.Point, angle float64) raster.Point {
	c, s := math.Cos(angle), math.Sin(angle)
	return raster.Point{X: c*p.X - s*p.Y, Y: s*p.X + c*p.Y}
}

// nearestOnLine is the place on the open polyline that is nearest to q.
func nearestOnLine(line []raster.Point, q raster.Point) (raster.Point, float64) {
	best, at := math.Inf(1), q
	for i := 0; i+1 < len(line); i++ {
		n := nearestOnSegment(line[i], line[i+1], q)
		if d := dist(n, q); d < best {
			best, at = d, n
		}
	}
	return at, best
}

func nearestOnSegment(a, b, q raster.Point) raster.Point {
	dx, dy := b.X-a.X, b.Y-a.Y
	l := dx*dx + dy*dy
	if l == 0 {
		return a
	}
	return between(a, b, math.Max(0, math.Min(1, ((q.X-a.X)*dx+(q.Y-a.Y)*dy)/l)))
}
