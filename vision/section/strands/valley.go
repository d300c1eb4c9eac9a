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
	const edge = 2 // as far as the mask's steps go
	pw := w + 2*edge
	d := make([]int32, pw*(h+2*edge))
	for y := range h {
		to := d[(y+edge)*pw+edge:]
		for x, v := range in[y*w : (y+1)*w] {
			if v {
				to[x] = far
			}
		}
	}
	for y := edge; y < h+edge; y++ {
		for i := y*pw + edge; i < y*pw+edge+w; i++ {
			if d[i] != 0 {
				d[i] = nearer(d, i, pw, 1)
			}
		}
	}
	out := make([]float32, w*h)
	for y := h + edge - 1; y >= edge; y-- {
		for x := w - 1; x >= 0; x-- {
			i := y*pw + edge + x
			if d[i] != 0 {
				d[i] = nearer(d, i, pw, -1)
				out[(y-edge)*w+x] = float32(d[i]) / 5
			}
		}
	}
	return out
}

// nearer is the least distance by way of the neighbours already passed: with sign 1 those above, with -1 those below.
func nearer(d []int32, i, w, sign int) int32 {
	one, row := sign, sign*w
	return min(d[i], d[i-one]+5, d[i-row]+5, d[i-row-one]+7, d[i-row+one]+7,
		d[i-row-2*one]+11, d[i-2*row-one]+11, d[i-2*row+one]+11, d[i-row+2*one]+11)
}
