package strands

import (
	"math"
	"slices"
)

// gauss blurs with a Gaussian kernel of standard deviation sigma, cut off at three; the rim is repeated.
func gauss(src []float32, w, h int, sigma float64) []float32 {
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	sum := float32(0)
	for i := range k {
		d := float64(i-r) / sigma
		k[i] = float32(math.Exp(-d * d / 2))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	mid, out := make([]float32, w*h), make([]float32, w*h)
	pad := make([]float32, w+2*r)
	for y := range h {
		row := src[y*w : (y+1)*w]
		copy(pad[r:], row)
		for i := range r {
			pad[i], pad[r+w+i] = row[0], row[w-1]
		}
		to := mid[y*w : (y+1)*w]
		for j, kj := range k {
			from := pad[j : j+w]
			for x := range to {
				to[x] += kj * from[x]
			}
		}
	}
	for y := range h {
		to := out[y*w : (y+1)*w]
		for j, kj := range k {
			sy := min(max(y+j-r, 0), h-1)
			from := mid[sy*w : (sy+1)*w]
			for x := range to {
				to[x] += kj * from[x]
			}
		}
	}
	return out
}

// valleys tells how much each pixel lies in a dark line: the larger eigenvalue of the scale-normalised Hessian
// (T. Lindeberg 1998, ridge strength with gamma = 1), the largest over the scales; 0 where none.
func valleys(grey []float32, w, h int, scales ...float64) []float32 {
	out := make([]float32, w*h)
	for _, s := range scales {
		g := gauss(grey, w, h, s)
		n := float32(s * s)
		for y := 1; y < h-1; y++ {
			up, on, dn := g[(y-1)*w:y*w], g[y*w:(y+1)*w], g[(y+1)*w:(y+2)*w]
			for x := 1; x < w-1; x++ {
				xx := on[x-1] - 2*on[x] + on[x+1]
				yy := up[x] - 2*on[x] + dn[x]
				xy := (up[x-1] - up[x+1] - dn[x-1] + dn[x+1]) / 4
				d := (xx - yy) / 2
				l := (xx+yy)/2 + float32(math.Sqrt(float64(d*d+xy*xy)))
				if v := n * l; v > out[y*w+x] {
					out[y*w+x] = v
				}
			}
		}
	}
	return out
}

// steps tells where tones change as from strand to strand, 0 to stepTop: the gradient of the smoothed parts of the tone,
// each against its median, so that grains count for nothing where there are many.
func (f *field) steps(metal []bool) []float32 {
	const stepTop = 0.5
	sum := make([]float32, len(f.in))
	plane := make([]float32, len(f.in))
	for k := range f.hues() {
		for i := range plane {
			plane[i] = float32(f.hueAt(i)[k])
		}
		g := gauss(plane, f.w, f.h, max(2.2, 1.5*f.blur))
		var some []float32
		for i := f.w; i < len(plane)-f.w; i++ {
			dx, dy := g[i+1]-g[i-1], g[i+f.w]-g[i-f.w]
			plane[i] = dx*dx + dy*dy
			if metal[i] && i%7 == 0 {
				some = append(some, plane[i])
			}
		}
		slices.Sort(some)
		m := max(quantile(some, 0.5), 1e-8)
		for i, v := range plane {
			sum[i] += v / m
		}
	}
	n := float32(f.hues())
	for i, v := range sum {
		e := float32(math.Sqrt(float64(v / n)))
		sum[i] = max(0, min((e-1.5)/8, stepTop))
	}
	return sum
}

// distances is each marked pixel's distance to the nearest pixel not marked, by the two-pass chamfer 5-7-11 mask
// (G. Borgefors 1986), right to 2 %. Outside the picture nothing is marked.
func distances(in []bool, w, h int) []float32 {
	const far = 1 << 24
	d := make([]int32, w*h)
	for i, v := range in {
		if v {
			d[i] = far
		}
	}
	steps := []struct{ dx, dy, c int }{{-1, 0, 5}, {0, -1, 5}, {-1, -1, 7}, {1, -1, 7}, {-2, -1, 11}, {-1, -2, 11}, {1, -2, 11}, {2, -1, 11}}
	relax := func(x, y, sign int) {
		i := y*w + x
		if d[i] == 0 {
			return
		}
		best := d[i]
		for _, s := range steps {
			nx, ny := x+sign*s.dx, y+sign*s.dy
			v := int32(s.c)
			if nx >= 0 && ny >= 0 && nx < w && ny < h {
				v += d[ny*w+nx]
			}
			best = min(best, v)
		}
		d[i] = best
	}
	for y := range h {
		for x := range w {
			relax(x, y, 1)
		}
	}
	for y := h - 1; y >= 0; y-- {
		for x := w - 1; x >= 0; x-- {
			relax(x, y, -1)
		}
	}
	out := make([]float32, w*h)
	for i, v := range d {
		out[i] = float32(v) / 5
	}
	return out
}
