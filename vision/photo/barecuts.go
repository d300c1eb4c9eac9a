package photo

import (
	"fmt"
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// Strands that end early are looked for on the strands' upper side: there a ridge, the strand, turns within a fraction of
// its width into a valley, the gap that it leaves between its neighbours. Gaps that open between strands that fan out
// begin as narrow wedges and show no such step.
const (
	cutsPPM       = 24.0
	cutsDirection = 0.35 // mm over which the strands' direction is taken to be one
	cutsMostTurn  = 0.6  // rad
	cutBeforeFrom = 0.15 // of a strand's width: the step is looked for between this before and after it
	cutBeforeTo   = 0.5
	cutGap        = 0.5  // from a strand's middle to its edges
	cutNeighbour  = 0.85 // from a gap's middle to the strands beside it
	// Strengths are in the median strand's own relief. In pictures with known ends, ends showed 2.3 to 4.3 and nothing else
	// above 1.6; where strands splay, gaps reach 2.
	cutSure      = 2.2
	cutDoubtful  = 1.8
	cutRidgeFree = 3.4 // so much below a ridge the place before a cut end may lie, times two: it may be dull beside bright flanks
	// In pictures with known ends two of five cut strands showed. Where one shows, some two more are hidden, give or take
	// as many; where none shows there are in two pictures of three none, but up to six were hidden altogether.
	cutHidden  = 2.0
	uCutHidden = 1.0
	uCutNone   = 2.5
)

// strandGrid is the ln of brightness of the bare strands, and the strands' direction, as a turn from x, at each place.
type strandGrid struct {
	*part.Strip
	ln, turn part.Plane
	strand   float64 // pixels
}

func (b *bench) strandGrid(x0, x1, y0, y1 float64) strandGrid {
	s := part.NewStrip(b.im, b.frame, x0, x1, y0, y1, 0, cutsPPM)
	g := strandGrid{Strip: s, strand: b.strandMM() * cutsPPM}
	w, h := s.Chan[0].W, s.Chan[0].H
	g.ln = part.NewPlane(w, h)
	for k := range g.ln.Pix {
		v := (s.Chan[0].Pix[k] + s.Chan[1].Pix[k] + s.Chan[2].Pix[k]) / 3
		g.ln.Pix[k] = float32(math.Log(float64(v) + part.LogFloor))
	}
	g.ln = blurred(g.ln, 0.6)
	g.turn = direction(blurred(g.ln, 1), cutsDirection*cutsPPM)
	return g
}

// direction is the stripes' direction at each pixel: that of the least change, from the structure tensor averaged over
// sigma pixels (Bigün & Granlund 1987).
func direction(p part.Plane, sigma float64) part.Plane {
	xx, xy, yy := part.NewPlane(p.W, p.H), part.NewPlane(p.W, p.H), part.NewPlane(p.W, p.H)
	for j := 1; j+1 < p.H; j++ {
		for i := 1; i+1 < p.W; i++ {
			k := j*p.W + i
			gx, gy := (p.Pix[k+1]-p.Pix[k-1])/2, (p.Pix[k+p.W]-p.Pix[k-p.W])/2
			xx.Pix[k], xy.Pix[k], yy.Pix[k] = gx*gx, gx*gy, gy*gy
		}
	}
	xx, xy, yy = blurred(xx, sigma), blurred(xy, sigma), blurred(yy, sigma)
	for k := range xx.Pix {
		across := 0.5 * math.Atan2(2*float64(xy.Pix[k]), float64(xx.Pix[k]-yy.Pix[k]))
		along := math.Remainder(across+math.Pi/2, math.Pi)
		xx.Pix[k] = float32(math.Max(-cutsMostTurn, math.Min(cutsMostTurn, along)))
	}
	return xx
}

// blurred is the plane blurred by a Gaussian of sigma pixels; its rim is repeated outwards.
func blurred(p part.Plane, sigma float64) part.Plane {
	n := int(3*sigma) + 1
	kernel := make([]float32, 2*n+1)
	sum := float32(0)
	for k := range kernel {
		kernel[k] = float32(math.Exp(-0.5 * sq(float64(k-n)/sigma)))
		sum += kernel[k]
	}
	pass := func(src part.Plane, step, count, along int, lines int, lineStep int) part.Plane {
		dst := part.NewPlane(src.W, src.H)
		for l := range lines {
			for i := range along {
				v := float32(0)
				for k, w := range kernel {
					at := max(0, min(count-1, i+k-n))
					v += w * src.Pix[l*lineStep+at*step]
				}
				dst.Pix[l*lineStep+i*step] = v / sum
			}
		}
		return dst
	}
	rows := pass(p, 1, p.W, p.W, p.H, p.W)
	return pass(rows, p.W, p.H, p.H, p.W, 1)
}

// mean is the mean ln of brightness around pixel (i, j) over a0..a1 along the strand and at the places across, both in
// strand widths.
func (g *strandGrid) mean(i, j int, a0, a1 float64, across ...float64) float64 {
	sin, cos := math.Sincos(float64(g.turn.Pix[j*g.turn.W+i]))
	const steps = 4
	sum := 0.0
	for k := range steps {
		a := g.strand * (a0 + (a1-a0)*float64(k)/(steps-1))
		for _, c := range across {
			c *= g.strand
			sum += float64(g.ln.At(float64(i)+a*cos-c*sin, float64(j)+a*sin+c*cos))
		}
	}
	return sum / float64(steps*len(across))
}

// relief is how much a strand stands out of the gaps beside it at a pixel.
func (g *strandGrid) relief(i, j int) float64 {
	return g.mean(i, j, -0.2, 0.2, 0) - g.mean(i, j, -0.2, 0.2, -cutGap, cutGap)
}

// step is how much a pixel looks like a cut strand's end, see cutSure; usual is the median strand's relief.
func (g *strandGrid) step(i, j int, usual float64) float64 {
	const from, to, near, far = cutBeforeFrom, cutBeforeTo, cutNeighbour - 0.1, cutNeighbour + 0.1
	before, after := g.mean(i, j, -to, -from, 0), g.mean(i, j, from, to, 0)
	ridge := before - g.mean(i, j, -to, -from, -cutGap, cutGap)
	valley := math.Min(g.mean(i, j, from, to, near, far), g.mean(i, j, from, to, -near, -far)) - after
	return math.Min(math.Min(valley, before-after)/usual, 2*ridge/usual+cutRidgeFree)
}

// earlyEnds lists where strands end early on the upper side, x and y in mm, and how many more places may be such ends.
func (b *bench) earlyEnds(c bareSides, x0, x1 float64) (ends []subpixel.Point, doubtful int) {
	d := b.strandMM()
	if x1-x0 < 2*d {
		return nil, 0
	}
	lo, hi := subpixel.Percentile(c.right, 0)-0.5, subpixel.Percentile(c.left, 100)+0.5
	g := b.strandGrid(x0-1, x1+1, lo, hi)
	w, h := g.ln.W, g.ln.H
	inside := make([]bool, w*h)
	var reliefs []float64
	for i := range w {
		left, right := c.near(g.X(float64(i)))
		for j := range h {
			x, y := g.X(float64(i)), g.Y(float64(j))
			if x > x0 && x < x1 && y < left-d/2 && y > right+d/2 {
				inside[j*w+i] = true
				reliefs = append(reliefs, math.Abs(g.relief(i, j)))
			}
		}
	}
	usual := math.Max(0.02, subpixel.Percentile(reliefs, 50))
	s := part.NewPlane(w, h)
	for k, in := range inside {
		if in {
			s.Pix[k] = float32(g.step(k%w, k/w, usual))
		}
	}
	for k, v := range s.Pix {
		if float64(v) < cutDoubtful || !highest(s, k, int(0.75*g.strand)) {
			continue
		}
		if float64(v) < cutSure {
			doubtful++
			continue
		}
		ends = append(ends, subpixel.Point{X: g.X(float64(k % w)), Y: g.Y(float64(k / w))})
	}
	return ends, doubtful
}

// highest tells whether no pixel within reach is larger.
func highest(p part.Plane, k, reach int) bool {
	i, j := k%p.W, k/p.W
	for y := max(0, j-reach); y <= min(p.H-1, j+reach); y++ {
		for x := max(0, i-reach); x <= min(p.W-1, i+reach); x++ {
			if q := y*p.W + x; p.Pix[q] > p.Pix[k] || (p.Pix[q] == p.Pix[k] && q < k) {
				return false
			}
		}
	}
	return true
}

// near gives the strands' sides about x, medians over neighbouring blocks.
func (c bareSides) near(x float64) (left, right float64) {
	var l, r []float64
	for i := range c.x {
		if math.Abs(c.x[i]-x) < 0.4 {
			l, r = append(l, c.left[i]), append(r, c.right[i])
		}
	}
	if len(l) == 0 {
		return 0, 0
	}
	return subpixel.Percentile(l, 50), subpixel.Percentile(r, 50)
}

// cutStrands counts strands whose end lies more than two strand widths behind the median one, and measures how far all
// ends lie apart. Of cut strands a picture from above shows a part only: where some are seen, about as many again are not,
// and any of these may be the shortest.
func (b *bench) cutStrands(c bareSides, e endings) {
	d := b.strandMM()
	ends, doubtful := b.earlyEnds(c, c.from+0.3, e.median-2.3*d)
	edge := uncertainty.Component{Name: "edge", Source: "where single strands end", Standard: 0.05}
	if len(ends) == 0 {
		b.noneSeenCut(e)
		return
	}
	shortest := e.median
	for _, p := range ends {
		shortest = math.Min(shortest, p.X)
		b.mark(record.MarkStray, record.CutStrands, 0, [2]float64{p.X - 0.3, p.Y}, [2]float64{p.X, p.Y})
	}
	b.set(record.CutStrands, float64(len(ends))+cutHidden, uncertainty.Budget{
		{Name: "hidden", Source: "cut strands under others, and places that may be cut ends or gaps", Standard: uCutHidden + math.Min(2, float64(doubtful))/2},
	})
	x, u := shortestOf(shortest-c.from, e.median-c.from, cutHidden)
	b.set(record.StrandEndSpread, e.last-c.from-x, uncertainty.Budget{
		{Name: "hidden", Source: "cut strands under others, of which one may be the shortest", Standard: u}, edge,
		{Name: "edge", Source: "the last strand's end", Standard: e.uLast},
	})
}

// noneSeenCut fills in what can be told where no strand is seen cut short. The count of strands that end early may be off
// by those hidden under others. Their spread cannot be told: where nothing shows, in one picture of three a hidden strand
// is cut anywhere along the bare length, and a spread of a third of a millimetre with a u of five would say nothing, while
// one that leaves that strand out would be wrong. So it is left out, and how far the ends differ that lie open stands in the
// reason.
func (b *bench) noneSeenCut(e endings) {
	early := math.Round(e.early)
	b.set(record.CutStrands, early, uncertainty.Budget{
		{Name: "hidden", Source: "cut strands under others, and how far all ends scatter", Standard: math.Ceil(2*math.Hypot(uCutNone, early)) / 2},
	})
	b.rec.Miss(record.StrandEndSpread, fmt.Sprintf("no strand is seen cut short, but one that lies under others would not show, and it counts. "+
		"The ends that lie open tell of a spread of about %.1f mm: turn the wire over and look at its other side where that matters", e.spread))
}

// shortestOf is the expected shortest of a strand seen to end at x and n hidden ones that end anywhere along the length,
// with its standard deviation: the chance that it is longer than t < x is (1 - t/length)^n.
func shortestOf(x, length, n float64) (mean, sd float64) {
	f := math.Max(0, math.Min(1, x/length))
	rest := math.Pow(1-f, n+1)
	mean = length / (n + 1) * (1 - rest)
	square := 2 * length * length * ((1-rest)/(n+1) - (1-rest*(1-f))/(n+2))
	return mean, math.Sqrt(math.Max(0, square-mean*mean))
}
