package strands

import (
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// gridPX is about how many pixels the cavity has on the working grid, where there are more it is averaged down: grooves stay
// wide enough to see, grains go under.
const gridPX = 80_000

// largePX is a strand so large that longer lines are looked for.
const largePX = 2500

// rimPX is the margin kept about the cavity, in px of the working grid: enough of the sleeve to see scratches go on.
const rimPX = 24

// field is the cavity cut out at working scale. Tones are shares of the strands' tone: 1 is a typical strand.
type field struct {
	scale  int // px of the input per px of the grid
	x0, y0 int // the grid's first pixel in the input
	w, h   int
	in     []bool
	grey   []float32
	tone   [][]float32 // one plane or three
	area   int         // pixels inside
	blur   float64     // px of the grid
	raw    [3]float32  // the strands' tone by plane, as a share of their grey
	ground float64     // the voids' tone as a share of the strands'; NaN where nothing is dark
}

// scaleOf is the px of the input per px of the grid.
func scaleOf(area int) int { return max(1, int(math.Sqrt(float64(area)/gridPX)+0.5)) }

// newField cuts the cavity out and averages it down by a scale. It returns nil where the mask is empty.
func newField(in Input, s int) *field {
	m := in.Cavity
	x0, y0, x1, y1 := m.W, m.H, -1, -1
	for y := range m.H {
		for x, v := range m.Pix[y*m.W : (y+1)*m.W] {
			if v {
				x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
			}
		}
	}
	if x1 < 0 {
		return nil
	}
	f := &field{scale: s, x0: x0 - rimPX*s, y0: y0 - rimPX*s, blur: math.Hypot(in.BlurPX/float64(s), 0.29*float64(s-1)/float64(s))}
	f.w, f.h = (x1-x0)/s+1+2*rimPX, (y1-y0)/s+1+2*rimPX
	f.in = make([]bool, f.w*f.h)
	f.shrinkMask(m)
	for _, p := range in.Tone {
		f.tone = append(f.tone, f.shrink(p))
	}
	f.grey = f.tone[0]
	if len(f.tone) > 1 {
		f.grey = make([]float32, f.w*f.h)
		for _, t := range f.tone {
			for i, v := range t {
				f.grey[i] += v / float32(len(f.tone))
			}
		}
	}
	return f
}

// shrink averages blocks of scale x scale pixels; outside the picture the rim is repeated.
func (f *field) shrink(p raster.Plane) []float32 {
	out := make([]float32, f.w*f.h)
	inv := 1 / float32(f.scale*f.scale)
	for y := range f.h {
		for dy := range f.scale {
			sy := min(max(f.y0+y*f.scale+dy, 0), p.H-1)
			row := p.Pix[sy*p.W : (sy+1)*p.W]
			for x := range f.w {
				for dx := range f.scale {
					sx := min(max(f.x0+x*f.scale+dx, 0), p.W-1)
					out[y*f.w+x] += row[sx] * inv
				}
			}
		}
	}
	return out
}

// shrinkMask keeps blocks at least half inside.
func (f *field) shrinkMask(m raster.Mask) {
	for y := range f.h {
		for x := range f.w {
			n := 0
			for dy := range f.scale {
				for dx := range f.scale {
					sx, sy := f.x0+x*f.scale+dx, f.y0+y*f.scale+dy
					if sx >= 0 && sy >= 0 && sx < m.W && sy < m.H && m.Pix[sy*m.W+sx] {
						n++
					}
				}
			}
			if 2*n >= f.scale*f.scale {
				f.in[y*f.w+x] = true
				f.area++
			}
		}
	}
}

// level finds the strands' and the voids' tone and divides the tones by the strands'. It reports false where nothing in
// the cavity is bright enough to be metal.
//
// Two classes by Otsu's method (N. Otsu 1979); they count as two only where the dark one is darker than 0.6 of the
// bright one, else all is strand. Metal beside the cavity is the sleeve: what is darker than a third of it is no strand
// (common practice, no source).
func (f *field) level() bool {
	var inside, rim, outside []float32
	wall := distances(f.in, f.w, f.h)
	for i, v := range f.grey {
		switch {
		case wall[i] > 3:
			inside = append(inside, v)
		case f.in[i]:
			rim = append(rim, v)
		default:
			outside = append(outside, v)
		}
	}
	if len(inside) < len(rim) { // a cavity that is hardly more than rim
		inside = append(inside, rim...)
	}
	if len(inside) == 0 {
		return false
	}
	slices.Sort(inside)
	slices.Sort(outside)
	cut := otsu(inside)
	k, _ := slices.BinarySearch(inside, cut)
	strand := quantile(inside[k:], 0.5)
	if k == 0 || quantile(inside[:k], 0.5) > 0.6*strand {
		strand = quantile(inside, 0.5)
	}
	if strand <= 0 || (len(outside) > 50 && strand < quantile(outside, 0.75)/3) {
		return false
	}
	f.ground = math.NaN()
	if dark := float64(quantile(inside, 0.005) / strand); dark < 0.6 {
		f.ground = dark
	}
	var sum, n [3]float64
	lo := strand * 0.75
	for i, v := range f.grey {
		if f.in[i] && v > lo {
			for c, t := range f.tone {
				sum[c] += float64(t[i])
				n[c]++
			}
		}
	}
	for i := range f.grey {
		f.grey[i] /= strand
	}
	if len(f.tone) > 1 {
		for c, t := range f.tone {
			k := float32(n[c] / math.Max(sum[c], 1e-9))
			f.raw[c] = 1 / (k * strand)
			for i := range t {
				t[i] *= k
			}
		}
	}
	return true
}

// otsu is the threshold that parts sorted values into the two classes farthest apart.
func otsu(v []float32) float32 {
	total := 0.
	for _, x := range v {
		total += float64(x)
	}
	best, cut, low := -1., v[0], 0.
	n := float64(len(v))
	step := max(1, len(v)/512)
	for i, x := range v {
		if i > 0 && i%step == 0 {
			a, b := low/float64(i), (total-low)/(n-float64(i))
			if s := float64(i) * (n - float64(i)) * (a - b) * (a - b); s > best {
				best, cut = s, x
			}
		}
		low += float64(x)
	}
	return cut
}

// quantile of sorted values; 0 where there are none.
func quantile(v []float32, q float64) float32 {
	if len(v) == 0 {
		return 0
	}
	return v[min(int(q*float64(len(v))), len(v)-1)]
}
