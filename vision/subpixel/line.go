package subpixel

import (
	"errors"
	"math"
	"slices"
)

// Point is a place.
type Point struct{ X, Y float64 }

// ErrTooFew says that there are fewer points than a fit needs, or that they do not determine it.
var ErrTooFew = errors.New("the points do not determine the fit")

// Line is a straight line: all Mid + t·Dir. Mid is the points' (weighted) centre of gravity, Dir has length 1.
type Line struct {
	Mid, Dir Point
	SD       float64 // standard deviation of the points' distances, from n-2 degrees of freedom
	UOffset  float64 // standard uncertainty of the line's place across itself, at Mid
	UAngle   float64 // standard uncertainty of the direction, rad; not correlated with UOffset
	Weights  []float64
}

// Distance is the signed distance of a point from the line, positive to the left of Dir (x right, y up).
func (l Line) Distance(p Point) float64 {
	return l.Dir.X*(p.Y-l.Mid.Y) - l.Dir.Y*(p.X-l.Mid.X)
}

// Along is the place of the foot of a point on the line, from Mid in the direction of Dir.
func (l Line) Along(p Point) float64 {
	return l.Dir.X*(p.X-l.Mid.X) + l.Dir.Y*(p.Y-l.Mid.Y)
}

// UAt is the standard uncertainty of the line's place across itself at the distance t along it from Mid.
func (l Line) UAt(t float64) float64 { return math.Hypot(l.UOffset, t*l.UAngle) }

// FitLine fits a line by total least squares: the sum of squared distances is smallest. Two points or more.
func FitLine(points []Point) (Line, error) {
	w := make([]float64, len(points))
	for i := range w {
		w[i] = 1
	}
	return weightedLine(points, w)
}

// FitLineRobust is FitLine with Tukey's biweight (c = 4.685), which gives points further off than about 4.7 standard
// deviations no weight at all. The scale is 1.4826 times the median absolute distance, and the start a fit with
// Huber's weights, which has one minimum only. It stands up to nearly half of the points lying off on alternating sides, to
// less where they lie off in one direction. SD and uncertainties are those of the weighted fit.
func FitLineRobust(points []Point) (Line, error) {
	l, err := FitLine(points)
	if err != nil {
		return l, err
	}
	w := make([]float64, len(points))
	d := make([]float64, len(points))
	for round := range 40 {
		for i, p := range points {
			d[i] = l.Distance(p)
		}
		s := MAD(d)
		if s < 1e-12 {
			break
		}
		for i := range d {
			w[i] = robustWeight(d[i]/s, round < 10)
		}
		before := l
		if l, err = weightedLine(points, w); err != nil {
			return before, err
		}
		turned := l.Dir.X*before.Dir.Y - l.Dir.Y*before.Dir.X
		if round >= 10 && math.Abs(l.Distance(before.Mid)) < 1e-6*s && math.Abs(turned) < 1e-9 {
			break
		}
	}
	return l, nil
}

// robustWeight is Huber's (k = 1.345) or Tukey's (c = 4.685), each with 95 % efficiency under Gaussian noise.
func robustWeight(t float64, huber bool) float64 {
	t = math.Abs(t)
	if huber {
		return math.Min(1, 1.345/t)
	}
	if t >= 4.685 {
		return 0
	}
	q := 1 - t*t/(4.685*4.685)
	return q * q
}

func weightedLine(points []Point, w []float64) (Line, error) {
	var sw, mx, my float64
	used := 0
	for i, p := range points {
		sw, mx, my = sw+w[i], mx+w[i]*p.X, my+w[i]*p.Y
		if w[i] > 0 {
			used++
		}
	}
	if used < 2 || !(sw > 0) {
		return Line{}, ErrTooFew
	}
	mx, my = mx/sw, my/sw
	var xx, xy, yy float64
	for i, p := range points {
		dx, dy := p.X-mx, p.Y-my
		xx, xy, yy = xx+w[i]*dx*dx, xy+w[i]*dx*dy, yy+w[i]*dy*dy
	}
	angle := math.Atan2(2*xy, xx-yy) / 2
	l := Line{Mid: Point{mx, my}, Dir: Point{math.Cos(angle), math.Sin(angle)}, Weights: slices.Clone(w)}
	var across, along float64
	for i, p := range points {
		d, t := l.Distance(p), l.Along(p)
		across, along = across+w[i]*d*d, along+w[i]*t*t
	}
	if !(along > 0) {
		return Line{}, ErrTooFew
	}
	if sw > 2 {
		l.SD = math.Sqrt(across / (sw - 2))
	}
	l.UOffset, l.UAngle = l.SD/math.Sqrt(sw), l.SD/math.Sqrt(along)
	return l, nil
}

// MAD is 1.4826 times the median absolute value: a robust standard deviation about 0.
func MAD(v []float64) float64 {
	a := make([]float64, len(v))
	for i, x := range v {
		a[i] = math.Abs(x)
	}
	return 1.4826 * Percentile(a, 50)
}

// Percentile is the value below which p per cent of v lie, interpolated between ranks; NaN for an empty v.
func Percentile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	at := math.Min(math.Max(p/100, 0), 1) * float64(len(s)-1)
	i := int(at)
	low, high := ranked(s, i)
	if i == len(s)-1 {
		return low
	}
	return low + (at-float64(i))*(high-low)
}

// Regression is y = B0 + B1·x by ordinary least squares, for errors in y alone.
type Regression struct {
	B0, B1 float64
	U0, U1 float64 // standard uncertainties
	Cov    float64 // covariance of B0 and B1
	SD     float64 // of the residuals, n-2 degrees of freedom
}

// At is the fitted y at x, and its standard uncertainty.
func (r Regression) At(x float64) (y, u float64) {
	return r.B0 + r.B1*x, math.Sqrt(math.Max(0, r.U0*r.U0+2*x*r.Cov+x*x*r.U1*r.U1))
}

// Regress fits y on x.
func Regress(points []Point) (Regression, error) {
	n := float64(len(points))
	if n < 2 {
		return Regression{}, ErrTooFew
	}
	var mx, my float64
	for _, p := range points {
		mx, my = mx+p.X/n, my+p.Y/n
	}
	var xx, xy float64
	for _, p := range points {
		xx, xy = xx+(p.X-mx)*(p.X-mx), xy+(p.X-mx)*(p.Y-my)
	}
	if !(xx > 0) {
		return Regression{}, ErrTooFew
	}
	r := Regression{B1: xy / xx}
	r.B0 = my - r.B1*mx
	s := 0.
	for _, p := range points {
		d := p.Y - r.B0 - r.B1*p.X
		s += d * d
	}
	if n > 2 {
		r.SD = math.Sqrt(s / (n - 2))
	}
	r.U1 = r.SD / math.Sqrt(xx)
	r.U0 = r.SD * math.Sqrt(1/n+mx*mx/xx)
	r.Cov = -mx * r.U1 * r.U1
	return r, nil
}
