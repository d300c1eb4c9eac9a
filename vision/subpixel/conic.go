package subpixel

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Circle is a fitted circle. U are standard uncertainties from the residuals, SD that of the distances (n-3).
type Circle struct {
	Centre     Point
	Radius     float64
	UX, UY, UR float64
	SD         float64
	SumSquares float64
}

// FitCircleAlgebraic minimises the algebraic distance a·(x²+y²) + b·x + c·y + d under a²+b²+c²+d² = 1 (Gander, Golub and
// Strebel 1994, section 2). It needs no start and is biased towards small circles on short arcs.
func FitCircleAlgebraic(points []Point) (Circle, error) {
	if len(points) < 3 {
		return Circle{}, ErrTooFew
	}
	b := mat.NewDense(max(len(points), 4), 4, nil)
	for i, p := range points {
		b.SetRow(i, []float64{p.X*p.X + p.Y*p.Y, p.X, p.Y, 1})
	}
	var svd mat.SVD
	if !svd.Factorize(b, mat.SVDThin) {
		return Circle{}, ErrTooFew
	}
	var v mat.Dense
	svd.VTo(&v)
	a, p, q, r := v.At(0, 3), v.At(1, 3), v.At(2, 3), v.At(3, 3)
	c := Circle{Centre: Point{-p / (2 * a), -q / (2 * a)}}
	c.Radius = math.Sqrt((p*p+q*q)/(4*a*a) - r/a)
	if math.IsNaN(c.Radius) || math.IsInf(c.Radius, 0) {
		return Circle{}, ErrTooFew
	}
	return c, nil
}

// FitCircle minimises the sum of squared distances from the circle by damped Gauss-Newton steps from the algebraic circle
// (Gander, Golub and Strebel 1994, section 3). Three points or more, not on one line.
func FitCircle(points []Point) (Circle, error) {
	start, err := FitCircleAlgebraic(points)
	if err != nil {
		return Circle{}, err
	}
	x := []float64{start.Centre.X, start.Centre.Y, start.Radius}
	distances := func(x, out []float64) {
		for i, p := range points {
			out[i] = math.Hypot(p.X-x[0], p.Y-x[1]) - x[2]
		}
	}
	fit, err := leastSquares(x, len(points), distances)
	if err != nil {
		return Circle{}, err
	}
	return Circle{Centre: Point{fit.x[0], fit.x[1]}, Radius: fit.x[2], UX: fit.u(0), UY: fit.u(1), UR: fit.u(2),
		SD: fit.sd, SumSquares: fit.cost}, nil
}

// Ellipse is a fitted ellipse: half axes A >= B, Angle of the axis A to x in radians, -pi/2..pi/2.
type Ellipse struct {
	Centre     Point
	A, B       float64
	Angle      float64
	UX, UY     float64
	UA, UB     float64
	UAngle     float64
	SD         float64 // of the distances, n-5 degrees of freedom
	SumSquares float64
}

// FitEllipse minimises the sum of squared distances from the ellipse (each to its own foot point), from the best conic
// with coefficients A+C = 1. Five points or more.
func FitEllipse(points []Point) (Ellipse, error) {
	if len(points) < 5 {
		return Ellipse{}, ErrTooFew
	}
	start, err := ellipseStart(points)
	if err != nil {
		return Ellipse{}, err
	}
	distances := func(x, out []float64) {
		e := Ellipse{Centre: Point{x[0], x[1]}, A: math.Exp(x[2]), B: math.Exp(x[3]), Angle: x[4]}
		for i, p := range points {
			out[i] = e.distance(p)
		}
	}
	x := []float64{start.Centre.X, start.Centre.Y, math.Log(start.A), math.Log(start.B), start.Angle}
	fit, err := leastSquares(x, len(points), distances)
	if err != nil {
		return Ellipse{}, err
	}
	e := Ellipse{Centre: Point{fit.x[0], fit.x[1]}, A: math.Exp(fit.x[2]), B: math.Exp(fit.x[3]), Angle: fit.x[4],
		UX: fit.u(0), UY: fit.u(1), UAngle: fit.u(4), SD: fit.sd, SumSquares: fit.cost}
	e.UA, e.UB = e.A*fit.u(2), e.B*fit.u(3)
	if e.A < e.B {
		e.A, e.B, e.UA, e.UB, e.Angle = e.B, e.A, e.UB, e.UA, e.Angle+math.Pi/2
	}
	e.Angle = math.Remainder(e.Angle, math.Pi)
	return e, nil
}

// ellipseStart is the conic A·x² + B·xy + C·y² + D·x + E·y + F = 0 with A + C = 1 that fits best algebraically; where
// that is no ellipse, a circle.
func ellipseStart(points []Point) (Ellipse, error) {
	var mx, my float64
	n := float64(len(points))
	for _, p := range points {
		mx, my = mx+p.X/n, my+p.Y/n
	}
	m := mat.NewDense(len(points), 5, nil)
	r := mat.NewVecDense(len(points), nil)
	for i, p := range points {
		x, y := p.X-mx, p.Y-my
		m.SetRow(i, []float64{x*x - y*y, x * y, x, y, 1})
		r.SetVec(i, -y*y)
	}
	var s mat.VecDense
	if s.SolveVec(m, r) == nil {
		a, b, c, d, e, f := s.AtVec(0), s.AtVec(1), 1-s.AtVec(0), s.AtVec(2), s.AtVec(3), s.AtVec(4)
		if det := 4*a*c - b*b; det > 1e-9 {
			x, y := (b*e-2*c*d)/det, (b*d-2*a*e)/det
			level := -(f + (d*x+e*y)/2)
			mean, half := (a+c)/2, math.Hypot(a-c, b)/2
			if big, small := level/(mean-half), level/(mean+half); big > 0 && small > 0 {
				return Ellipse{Centre: Point{x + mx, y + my}, A: math.Sqrt(big), B: math.Sqrt(small),
					Angle: math.Atan2(-b, c-a) / 2}, nil
			}
		}
	}
	c, err := FitCircle(points)
	return Ellipse{Centre: c.Centre, A: c.Radius * 1.05, B: c.Radius / 1.05}, err
}

// distance is the distance of a point from the ellipse, negative inside.
func (e Ellipse) distance(p Point) float64 {
	s, c := math.Sincos(e.Angle)
	dx, dy := p.X-e.Centre.X, p.Y-e.Centre.Y
	x, y := math.Abs(c*dx+s*dy), math.Abs(c*dy-s*dx)
	a, b := e.A, e.B
	if a < b {
		a, b, x, y = b, a, y, x
	}
	fx, fy := foot(a, b, x, y)
	d := math.Hypot(x-fx, y-fy)
	if x*x/(a*a)+y*y/(b*b) < 1 {
		return -d
	}
	return d
}

// foot is the nearest point of the ellipse with half axes a >= b to (x, y) in the first quadrant. It bisects for the
// one root t > -b² of (a·x/(t+a²))² + (b·y/(t+b²))² = 1, which always stands between the two ends taken.
func foot(a, b, x, y float64) (fx, fy float64) {
	if y == 0 {
		if span := a*a - b*b; a*x < span {
			q := a * x / span
			return a * q, b * math.Sqrt(math.Max(0, 1-q*q))
		}
		return a, 0
	}
	low, high := -b*b+b*y, -b*b+math.Hypot(a*x, b*y)
	for range 100 {
		t := (low + high) / 2
		u, v := a*x/(t+a*a), b*y/(t+b*b)
		if t == low || t == high {
			break
		}
		if u*u+v*v > 1 {
			low = t
		} else {
			high = t
		}
	}
	t := (low + high) / 2
	return a * a * x / (t + a*a), b * b * y / (t + b*b)
}

// fitted is the outcome of leastSquares.
type fitted struct {
	x    []float64
	cost float64
	sd   float64
	cov  *mat.SymDense // in units of sd²
}

func (f fitted) u(k int) float64 { return f.sd * math.Sqrt(math.Max(0, f.cov.At(k, k))) }

// leastSquares minimises the sum of n squared residuals over x by Levenberg and Marquardt, derivatives by differences.
func leastSquares(x []float64, n int, residuals func(x, out []float64)) (fitted, error) {
	m := len(x)
	r, try := make([]float64, n), make([]float64, n)
	residuals(x, r)
	f := fitted{x: x, cost: dot(r, r)}
	lambda := 1e-3
	for round := 0; round < 200 && lambda < 1e12; round++ {
		a, b := normalEquations(f.x, r, residuals)
		damped := mat.NewSymDense(m, nil)
		damped.CopySym(a)
		for k := range m {
			damped.SetSym(k, k, a.At(k, k)*(1+lambda)+1e-300)
		}
		var ch mat.Cholesky
		var d mat.VecDense
		if !ch.Factorize(damped) || ch.SolveVecTo(&d, b) != nil {
			lambda *= 10
			continue
		}
		next := make([]float64, m)
		for k := range next {
			next[k] = f.x[k] - d.AtVec(k)
		}
		residuals(next, try)
		if c := dot(try, try); c <= f.cost {
			done := mat.Norm(&d, 2) < 1e-11*(1+mat.Norm(mat.NewVecDense(m, next), 2))
			f.x, f.cost, lambda = next, c, lambda/10
			r, try = try, r
			if done {
				break
			}
		} else {
			lambda *= 10
		}
	}
	if math.IsNaN(f.cost) {
		return f, ErrTooFew
	}
	if n > m {
		f.sd = math.Sqrt(f.cost / float64(n-m))
	}
	a, _ := normalEquations(f.x, r, residuals)
	var ch mat.Cholesky
	if !ch.Factorize(a) || ch.Cond() > 1e14 {
		return f, ErrTooFew
	}
	f.cov = mat.NewSymDense(m, nil)
	return f, ch.InverseTo(f.cov)
}

func normalEquations(x, r []float64, residuals func(x, out []float64)) (*mat.SymDense, *mat.VecDense) {
	m, n := len(x), len(r)
	jac := make([][]float64, m)
	low := make([]float64, n)
	p := append([]float64(nil), x...)
	for k := range m {
		h := 1e-6 * (1 + math.Abs(x[k]))
		jac[k] = make([]float64, n)
		p[k] = x[k] + h
		residuals(p, jac[k])
		p[k] = x[k] - h
		residuals(p, low)
		p[k] = x[k]
		for i := range low {
			jac[k][i] = (jac[k][i] - low[i]) / (2 * h)
		}
	}
	a, b := mat.NewSymDense(m, nil), mat.NewVecDense(m, nil)
	for k := range m {
		for l := k; l < m; l++ {
			a.SetSym(k, l, dot(jac[k], jac[l]))
		}
		b.SetVec(k, dot(jac[k], r))
	}
	return a, b
}

func dot(a, b []float64) float64 {
	s := 0.
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}
