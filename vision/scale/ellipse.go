package scale

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// ellipse in a picture: centre, half axes a >= b in px, direction of a in radians from x to y.
type ellipse struct {
	c    pt
	a, b float64
	turn float64
}

// at is the rim's point of parameter t and the unit vector outwards there.
func (e ellipse) at(t float64) (p, normal pt) {
	s, c := math.Sincos(t)
	st, ct := math.Sincos(e.turn)
	u, v := pt{ct, st}, pt{-st, ct}
	p = e.c.add(u.mul(e.a * c)).add(v.mul(e.b * s))
	n := u.mul(e.b * c).add(v.mul(e.a * s))
	return p, n.mul(1 / n.norm())
}

// distance is a point's distance from the rim to first order (Sampson 1982), negative inside; n is the unit vector
// across the rim there.
func (e ellipse) distance(p pt) (d float64, n pt) {
	s, c := math.Sincos(e.turn)
	return e.distanceAlong(p, s, c)
}

// distanceAlong is distance for the sine and cosine of the turn, which many points share.
func (e ellipse) distanceAlong(p pt, s, c float64) (d float64, n pt) {
	r := p.sub(e.c)
	x, y := (c*r.x+s*r.y)/e.a, (c*r.y-s*r.x)/e.b
	gx, gy := x/e.a, y/e.b
	g := math.Hypot(gx, gy)
	if g == 0 {
		return -e.b, pt{1, 0}
	}
	q := math.Hypot(x, y)
	return (q - 1) * q / g, pt{(c*gx - s*gy) / g, (s*gx + c*gy) / g}
}

// meets tells of edge points whether they lie on the rim and run along it.
func (e ellipse) meets(reach float64) func(p *edgePoint) bool {
	s, c := math.Sincos(e.turn)
	return func(p *edgePoint) bool {
		d, n := e.distanceAlong(p.at, s, c)
		return math.Abs(d) < reach && math.Abs(n.cross(p.n)) < 0.26
	}
}

// perimeter is Ramanujan's first approximation.
func (e ellipse) perimeter() float64 {
	return math.Pi * (3*(e.a+e.b) - math.Sqrt((3*e.a+e.b)*(e.a+3*e.b)))
}

// same tells whether no point of the two rims lies further apart than reach, nearly.
func (e ellipse) same(o ellipse, reach float64) bool {
	for k := range 8 {
		p, _ := e.at(float64(k) * math.Pi / 4)
		if d, _ := o.distance(p); math.Abs(d) > reach {
			return false
		}
	}
	return true
}

// enlarged turns the ellipse of a reduced picture into that of the full one (centres of pixels at whole numbers).
func (e ellipse) enlarged(f float64, each pt) ellipse {
	return ellipse{pt{(e.c.x+0.5)*each.x - 0.5, (e.c.y+0.5)*each.y - 0.5}, e.a * f, e.b * f, e.turn}
}

// centralEllipse is the ellipse about c through three points.
func centralEllipse(c pt, p [3]pt) (ellipse, bool) {
	var a [9]float64
	for i, q := range p {
		r := q.sub(c)
		a[3*i], a[3*i+1], a[3*i+2] = r.x*r.x, r.x*r.y, r.y*r.y
	}
	// Cramer's rule: the right hand side is (1, 1, 1).
	det := func(x, y, z, u, v, w, r, s, t float64) float64 { return x*(v*t-w*s) - y*(u*t-w*r) + z*(u*s-v*r) }
	d := det(a[0], a[1], a[2], a[3], a[4], a[5], a[6], a[7], a[8])
	if d == 0 {
		return ellipse{}, false
	}
	return conic{det(1, a[1], a[2], 1, a[4], a[5], 1, a[7], a[8]) / d, det(a[0], 1, a[2], a[3], 1, a[5], a[6], 1, a[8]) / d,
		det(a[0], a[1], 1, a[3], a[4], 1, a[6], a[7], 1) / d, 0, 0, -1}.ellipse(c, 1)
}

// conic is A·x² + B·xy + C·y² + D·x + E·y + F = 0.
type conic [6]float64

// ellipse gives the conic's ellipse, its coordinates being (p-origin)/unit. False where it is none.
func (k conic) ellipse(origin pt, unit float64) (ellipse, bool) {
	a, b, c, d, e, f := k[0], k[1], k[2], k[3], k[4], k[5]
	det := 4*a*c - b*b
	if !(det > 0) {
		return ellipse{}, false
	}
	x, y := (b*e-2*c*d)/det, (b*d-2*a*e)/det
	level := -(f + (d*x+e*y)/2)
	mean, half := (a+c)/2, math.Hypot(a-c, b)/2
	big, small := level/(mean-half), level/(mean+half)
	if !(big > 0) || !(small > 0) {
		return ellipse{}, false
	}
	turn := math.Atan2(-b, c-a) / 2
	if a+c < 0 {
		big, small = small, big
		turn = math.Atan2(b, a-c) / 2
	}
	return ellipse{origin.add(pt{x, y}.mul(unit)), math.Sqrt(big) * unit, math.Sqrt(small) * unit, turn}, true
}

// fitConic fits an ellipse to points by the distances of ellipse.distance, weighted (nil: all alike): algebraic least
// squares with A + C = 1, each equation over its gradient, repeated (Sampson 1982).
func fitConic(points []pt, weights []float64) (ellipse, bool) {
	if len(points) < 8 {
		return ellipse{}, false
	}
	var mid pt
	for _, p := range points {
		mid = mid.add(p.mul(1 / float64(len(points))))
	}
	unit := 0.
	for _, p := range points {
		unit += p.dist(mid) / float64(len(points))
	}
	e := ellipse{mid, unit, unit, 0}
	for round := range 4 {
		var sums [5][5]float64
		var right [5]float64
		for i, p := range points {
			w := 1.
			if weights != nil {
				w = weights[i]
			}
			if w == 0 {
				continue
			}
			x, y := (p.x-mid.x)/unit, (p.y-mid.y)/unit
			if round > 0 {
				w *= e.flatness(p)
			}
			row := [5]float64{x*x - y*y, x * y, x, y, 1}
			for k := range 5 {
				for l := k; l < 5; l++ {
					sums[k][l] += w * row[k] * row[l]
				}
				right[k] -= w * row[k] * y * y
			}
		}
		n, r := mat.NewSymDense(5, nil), mat.NewVecDense(5, right[:])
		for k := range 5 {
			for l := k; l < 5; l++ {
				n.SetSym(k, l, sums[k][l])
			}
		}
		var ch mat.Cholesky
		var s mat.VecDense
		if !ch.Factorize(n) || ch.SolveVecTo(&s, r) != nil {
			return ellipse{}, false
		}
		next, ok := conic{s.AtVec(0), s.AtVec(1), 1 - s.AtVec(0), s.AtVec(2), s.AtVec(3), s.AtVec(4)}.ellipse(mid, unit)
		if !ok {
			return ellipse{}, false
		}
		e = next
	}
	return e, true
}

// flatness is one over the square of the gradient of the ellipse's equation with A + C = 1, up to a factor.
func (e ellipse) flatness(p pt) float64 {
	s, c := math.Sincos(e.turn)
	r := p.sub(e.c)
	gx, gy := (c*r.x+s*r.y)/(e.a*e.a), (c*r.y-s*r.x)/(e.b*e.b)
	return 1 / (e.a * e.a * (gx*gx + gy*gy))
}
