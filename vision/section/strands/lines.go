package strands

import (
	"math"
	"slices"
)

// directions is how many directions lines are looked for in.
const directions = 12

// reachOf is how far a line goes either way, grid px: longer than most grains, shorter than most borders.
func reachOf(size float64) int {
	if size > largePX {
		return 12
	}
	return 7
}

// bend is the second derivatives of a plane smoothed to a scale, times the scale squared.
type bend struct{ xx, xy, yy []float32 }

// bends takes the second derivatives (T. Lindeberg 1998, ridge strength with gamma = 1).
func bends(grey []float32, w, h int, sigma float64) bend {
	g := gauss(grey, w, h, sigma)
	n := float32(sigma * sigma)
	b := bend{make([]float32, w*h), make([]float32, w*h), make([]float32, w*h)}
	for y := 1; y < h-1; y++ {
		up, on, dn := g[(y-1)*w:y*w], g[y*w:(y+1)*w], g[(y+1)*w:(y+2)*w]
		for x := 1; x < w-1; x++ {
			i := y*w + x
			b.xx[i] = n * (on[x-1] - 2*on[x] + on[x+1])
			b.yy[i] = n * (up[x] - 2*on[x] + dn[x])
			b.xy[i] = n * (up[x-1] - up[x+1] - dn[x-1] + dn[x+1]) / 4
		}
	}
	return b
}

// ray is the places along a line through the middle, as steps in a plane, and their weights.
type ray struct {
	steps  []int
	weight []float32
}

// rayOf is a line of some half length in a direction.
func rayOf(c, s float64, half, w int) ray {
	var r ray
	sum := float32(0)
	for t := -half; t <= half; t++ {
		u := float64(t) / float64(half+1)
		r.steps = append(r.steps, int(math.Round(float64(t)*s))*w+int(math.Round(float64(t)*c)))
		r.weight = append(r.weight, float32(1-u*u))
		sum += float32(1 - u*u)
	}
	for i := range r.weight {
		r.weight[i] /= sum
	}
	return r
}

// lines tells how much each pixel lies on a dark line that goes straight on for some pixels: the second derivative across
// each of several directions, averaged along it, the largest over directions and scales. Grains' edges do not go on,
// borders do.
func (f *field) lines(tone []float32, half int, scales ...float64) []float32 {
	w, h := f.w, f.h
	spans := spansOf(f.in, w, h, rimPX-half, half+1)
	out, across, sum := make([]float32, w*h), make([]float32, w*h), make([]float32, w)
	for _, sigma := range scales {
		b := bends(tone, w, h, sigma)
		for d := range directions {
			s, c := math.Sincos(math.Pi * float64(d) / directions)
			kx, ky, kk := float32(s*s), float32(c*c), float32(-2*s*c)
			for i := range across {
				across[i] = kx*b.xx[i] + ky*b.yy[i] + kk*b.xy[i]
			}
			r := rayOf(c, s, half, w)
			for _, p := range spans {
				to := sum[:p.n]
				clear(to)
				for k, step := range r.steps {
					addTo(to, across[p.at+step:], r.weight[k])
				}
				for x, v := range out[p.at : p.at+p.n] {
					if to[x] > v {
						out[p.at+x] = to[x]
					}
				}
			}
		}
	}
	return out
}

// addTo adds values times a weight.
func addTo(to, from []float32, weight float32) {
	from = from[:len(to)]
	for i, v := range from {
		to[i] += weight * v
	}
}

// span is pixels side by side.
type span struct{ at, n int }

// spansOf cuts a mask, grown by some pixels, into rows.
func spansOf(in []bool, w, h, grow, edge int) []span {
	var out []span
	for y := edge; y < h-edge; y++ {
		last := -1
		for x := edge; x < w-edge; x++ {
			if !in[y*w+x] {
				continue
			}
			from := max(x-grow, edge)
			if last >= 0 && from <= last {
				from = last
				out[len(out)-1].n += min(x+grow+1, w-edge) - from
			} else {
				out = append(out, span{y*w + from, min(x+grow+1, w-edge) - from})
			}
			last = min(x+grow+1, w-edge)
		}
	}
	return out
}

// lineTone is the plane that borders are looked for in: the brightness, and where the strands are of strong colour (copper)
// their warmth too, red less blue. A dark groove lacks it, and so does bright tin between two strands.
func (f *field) lineTone() []float32 {
	const (
		strong = 0.15 // of the brightness
		weight = 0.6
	)
	if len(f.tone) < 3 {
		return f.grey
	}
	warm := make([]float32, len(f.grey))
	var some []float32
	for i := range warm {
		warm[i] = f.raw[2]*f.tone[2][i] - f.raw[0]*f.tone[0][i]
		if f.in[i] && f.grey[i] > 0.8 && i%3 == 0 {
			some = append(some, warm[i])
		}
	}
	slices.Sort(some)
	usual := quantile(some, 0.5)
	if usual < strong {
		return f.grey
	}
	for i, v := range warm {
		warm[i] = (1-weight)*f.grey[i] + weight*v/usual
	}
	return warm
}
