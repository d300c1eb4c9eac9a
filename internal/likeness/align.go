package likeness

import "math"

// warp is an affine map of picture a into picture b, of pixel centres counted from the middles of both, in units of half
// the widths and heights: u = p0 + p1 x + p2 y, v = p3 + p4 x + p5 y.
type warp [6]float64

var identity = warp{0, 1, 0, 0, 0, 1}

// align finds the warp by which b goes best with a, beginning with the identity and at a coarse size.
func align(a, b grey) warp {
	w := identity
	for _, part := range []int{4, 2, 1} {
		small := func(g grey) grey {
			if part == 1 {
				return g
			}
			return g.shrunk(max(8, g.W/part), max(8, g.H/part))
		}
		w = refine(small(a), small(b), w)
	}
	return w
}

// refine is Gauss and Newton's method at one size. Unknown are the warp, and the gain and offset by which b's tones become a's.
func refine(a, b grey, w warp) warp {
	const steps, enough = 12, 0.01
	const n = 8
	gain, offset := 1.0, 0.0
	for range steps {
		var normal [n][n + 1]float64
		for y := range a.H {
			ny := (float64(y)+0.5)/float64(a.H)*2 - 1
			for x := range a.W {
				nx := (float64(x)+0.5)/float64(a.W)*2 - 1
				v, gx, gy, inside := b.slope(w.at(nx, ny))
				if !inside {
					continue
				}
				gx, gy = gain*gx, gain*gy
				row := [n + 1]float64{gx, gx * nx, gx * ny, gy, gy * nx, gy * ny, v, 1, float64(a.Pix[y*a.W+x]) - gain*v - offset}
				for i := range n {
					for j := i; j <= n; j++ {
						normal[i][j] += row[i] * row[j]
					}
				}
			}
		}
		step, solved := solve(&normal)
		if !solved {
			return w
		}
		moved := 0.0
		for i := range w {
			w[i] += step[i]
			moved = max(moved, math.Abs(step[i])*float64(max(a.W, a.H))/2)
		}
		gain, offset = gain+step[6], offset+step[7]
		if moved < enough {
			break
		}
	}
	return w
}

func (w warp) at(x, y float64) (u, v float64) {
	return w[0] + w[1]*x + w[2]*y, w[3] + w[4]*x + w[5]*y
}

// slope gives the tone at a place, in units of half width and height from the middle, and its slope by them; false outside.
func (g grey) slope(u, v float64) (tone, du, dv float64, inside bool) {
	x, y := (u+1)/2*float64(g.W)-0.5, (v+1)/2*float64(g.H)-0.5
	if !(x >= 0 && y >= 0 && x < float64(g.W-1) && y < float64(g.H-1)) {
		return 0, 0, 0, false
	}
	i := int(y)*g.W + int(x)
	fx, fy := x-math.Floor(x), y-math.Floor(y)
	p, q, r, s := float64(g.Pix[i]), float64(g.Pix[i+1]), float64(g.Pix[i+g.W]), float64(g.Pix[i+g.W+1])
	top, bottom := p+fx*(q-p), r+fx*(s-r)
	return top + fy*(bottom-top), ((1-fy)*(q-p) + fy*(s-r)) * float64(g.W) / 2, (bottom - top) * float64(g.H) / 2, true
}

// solve solves the normal equations, of which the upper half is filled in (Cholesky's method).
func solve(m *[8][9]float64) (x [8]float64, solved bool) {
	const n = 8
	var l [n][n]float64
	for i := range n {
		for j := 0; j <= i; j++ {
			sum := m[j][i]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i == j {
				if !(sum > 1e-9*m[i][i]) {
					return x, false
				}
				l[i][i] = math.Sqrt(sum)
			} else {
				l[i][j] = sum / l[j][j]
			}
		}
	}
	for i := range n {
		x[i] = m[i][n]
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			x[i] -= l[k][i] * x[k]
		}
		x[i] /= l[i][i]
	}
	return x, true
}
