package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// bareSides are the strands' two sides as seen, block by block along the axis: y at x, mm.
type bareSides struct {
	x, left, right []float64
	from, front    float64 // where the strands are first seen, and about where they end
}

const (
	bareBlockMM = 0.12
	regionSD    = 0.12 // a region's border is known to within this, mm
	bareClearMM = 0.12 // next to the cut end its own border is in the way
	leastBlocks = 8
	nearBlocks  = 6 // the width at the insulation is the median of these first ones
)

// isBare tells what share of a place shows strands, those that stand out included.
func (b *bench) isBare(x, y float64) float64 {
	if b.part.Regions == nil {
		return 0
	}
	return b.part.Regions.At(part.Conductor, b.frame, x, y) + b.part.Regions.At(part.Strays, b.frame, x, y) + b.part.Regions.At(part.Brush, b.frame, x, y)
}

// bareSides finds the strands' sides near where the regions put them.
func (b *bench) bareSides(cut cutFace) (c bareSides, ok bool) {
	c.front = b.lastBare()
	slope, _ := b.frame.View(0, 0)
	c.from = cut.at + math.Max(0, slope)*b.part.WireMM/2 + math.Abs(cut.slant)*b.bareHalf() + bareClearMM
	reach := subpixel.Reach{Before: 0.15 * b.ppm, After: 0.25 * b.ppm}
	for x := c.from; x+bareBlockMM < c.front; x += bareBlockMM {
		mid := x + bareBlockMM/2
		lo, hi, seen := b.bareAt(mid)
		if !seen {
			continue
		}
		centre := (lo + hi) / 2
		half := (hi - lo) / 2
		at := [2]float64{}
		good := true
		for k, s := range []side{left, right} {
			p := lnProfile(b.outwardFrom(s, centre, x, x+bareBlockMM, 0, half+1))
			d, ok := b.outermost(p, 0, expectation{half, regionSD}, reach)
			at[k], good = centre+float64(s)*d, good && ok
		}
		if good {
			c.x, c.left, c.right = append(c.x, mid), append(c.left, at[0]), append(c.right, at[1])
		}
	}
	return c, len(c.x) >= leastBlocks
}

// bareAt is where the regions see strands at x: the stretch of y that holds the most.
func (b *bench) bareAt(x float64) (lo, hi float64, ok bool) {
	const step = 0.03
	start, most := math.NaN(), 0.0
	for y := -besideMM + 0.5; y < besideMM-0.5; y += step {
		bare := b.isBare(x, y) > 0.5
		switch {
		case bare && math.IsNaN(start):
			start = y
		case !bare && !math.IsNaN(start):
			if y-start > most {
				most, lo, hi = y-start, start-step/2, y-step/2
			}
			start = math.NaN()
		}
	}
	return lo, hi, most > 0.3
}

// lastBare is about where the strands end: how far the regions see strands on the axis' middle lines, their median.
func (b *bench) lastBare() float64 {
	var last []float64
	half := b.bareHalf()
	for y := -0.7 * half; y <= 0.7*half; y += 0.1 {
		if x := b.lastBareOn(y, b.part.FrontX-1.5, b.part.FrontX+1.5); !math.IsNaN(x) {
			last = append(last, x)
		}
	}
	if len(last) == 0 {
		return b.part.FrontX
	}
	return subpixel.Percentile(last, 50)
}

// lastBareOn is the last x of from..to at which the line y shows strands; NaN where it shows none.
func (b *bench) lastBareOn(y, from, to float64) float64 {
	last := math.NaN()
	for x := from; x <= to; x += 0.03 {
		if b.isBare(x, y) > 0.5 {
			last = x
		}
	}
	return last
}

// widthFit is the width's smooth course along the axis, a + b·x + c·x²: strands fan out gently. sd is the scatter of
// single blocks about it.
type widthFit struct {
	c        [3]float64
	sd       float64
	from, to float64
}

func (f widthFit) at(x float64) float64 { return f.c[0] + f.c[1]*x + f.c[2]*x*x }

// most is where the width is largest.
func (f widthFit) most() (x, width float64) {
	for _, at := range []float64{f.from, f.to, math.Max(f.from, math.Min(f.to, -f.c[1]/(2*f.c[2])))} {
		if w := f.at(at); w > width {
			x, width = at, w
		}
	}
	return x, width
}

// fitWidth fits the course robustly: a block may take a shadow's edge for a strand's.
func (c bareSides) fitWidth() widthFit {
	f := widthFit{sd: 0.05, from: c.from, to: c.x[len(c.x)-1]}
	f.c[0] = subpixel.Percentile(c.widths(), 50)
	for range 12 {
		var m [3][4]float64
		var off []float64
		for i, x := range c.x {
			w := c.left[i] - c.right[i]
			r := w - f.at(x)
			off = append(off, r)
			addWeighted(&m, [3]float64{1, x, x * x}, w, 1/(1+sq(r/(1.5*f.sd))))
		}
		f.sd = math.Max(0.015, subpixel.MAD(off))
		f.c = solve3(m)
	}
	return f
}

func (c bareSides) widths() []float64 {
	w := make([]float64, len(c.x))
	for i := range w {
		w[i] = c.left[i] - c.right[i]
	}
	return w
}

// splay compares the largest width with that at the insulation.
func (b *bench) splay(c bareSides) {
	f := c.fitWidth()
	near := min(nearBlocks, len(c.x))
	first := subpixel.Percentile(c.widths()[:near], 50)
	x, most := f.most()
	u := math.Hypot(2*f.sd/math.Sqrt(float64(len(c.x))/3), math.Hypot(widthDefinedMM, widthDefinedPX/b.ppm))
	b.set(record.Splay, math.Max(1, most/first), uncertainty.Budget{
		{Name: "edge", Source: "borders on both sides at the insulation", Standard: most / first * u / first},
		{Name: "edge", Source: "borders on both sides at the widest place", Standard: u / first},
	})
	at := 0
	for i := range c.x {
		if math.Abs(c.x[i]-x) < math.Abs(c.x[at]-x) {
			at = i
		}
	}
	b.mark(record.MarkLength, record.Splay, 0, [2]float64{c.x[at], c.right[at]}, [2]float64{c.x[at], c.left[at]})
	for _, side := range [][]float64{c.left, c.right} {
		var p [][2]float64
		for i, y := range side {
			p = append(p, [2]float64{c.x[i], y})
		}
		b.mark(record.MarkEdge, record.Splay, 0, p...)
	}
}

const (
	widthDefinedMM = 0.08 // a width between single strands, whose shaded flanks run out into shadows
	widthDefinedPX = 1.0  // half a pixel to either side, which all blocks share
)

// outermost is the last border of a profile near want that stands out by outerShare of the strongest: behind a strand's
// end others may show their own before the ground begins.
func (b *bench) outermost(p [][]float64, start float64, want expectation, reach subpixel.Reach) (at float64, ok bool) {
	var s []float64
	from := math.Max(reach.Before, (want.x-2.5*want.sd-start)*b.ppm)
	best := 0.0
	for k := from; k <= (want.x+2.5*want.sd-start)*b.ppm; k += 0.5 {
		v, _ := subpixel.BorderStrength(p, k, reach, b.blurPX)
		v = math.Sqrt(math.Max(0, v)) * math.Exp(-0.5*sq((start+k/b.ppm-want.x)/want.sd))
		s, best = append(s, v), math.Max(best, v)
	}
	for k := len(s) - 2; k > 0; k-- {
		if s[k] >= s[k-1] && s[k] >= s[k+1] && s[k] > outerShare*best {
			e := subpixel.SettleBorder(p, from+float64(k)/2, reach, b.blurPX)
			return start + e.Pos/b.ppm, true
		}
	}
	return 0, false
}

const outerShare = 0.5
