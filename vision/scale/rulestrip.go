package scale

import (
	"math"
	"slices"

	"crimprule/vision/subpixel"
)

// strip is a row of graduations resampled from the full picture: x along the row and y along the graduations, both in
// pitches, by a camera that was fitted roughly before.
type strip struct {
	cam    Camera // in pitches
	per    int    // pixels a pitch
	x0, y0 float64
	w, h   int
	v      []float32 // NaN outside the picture
}

const (
	stripNode  = 8 // px; places in the picture are computed on this raster and interpolated between
	leastPer   = 12
	mostPer    = 32
	mostPixels = 6_000_000
)

// unrolled resamples the picture from k = low to high, half a pitch more at either end, and y from y0 to y1.
func unrolled(pic plane8, cam Camera, low, high int, y0, y1 float64) strip {
	s := strip{cam: cam, x0: float64(low) - 1, y0: y0}
	px, py := cam.Project(Vec{})
	s.per = min(max(int(math.Round(1/cam.mmPerPX(px, py, 0))), leastPer), mostPer)
	s.w, s.h = (high-low+2)*s.per+1, int((y1-y0)*float64(s.per))+1
	if s.w*s.h > mostPixels {
		s.h = mostPixels / s.w
	}
	cols := s.w/stripNode + 2
	nodes := make([]pt, cols*(s.h/stripNode+2))
	for i := range nodes {
		x, y := cam.Project(s.world(float64(i%cols*stripNode), float64(i/cols*stripNode)))
		nodes[i] = pt{x, y}
	}
	s.v = make([]float32, s.w*s.h)
	for j := range s.h {
		fy := float64(j%stripNode) / stripNode
		row, up := s.v[j*s.w:(j+1)*s.w], nodes[j/stripNode*cols:]
		down := up[cols:]
		for i := range row {
			fx := float64(i%stripNode) / stripNode
			n, m := up[i/stripNode:i/stripNode+2], down[i/stripNode:i/stripNode+2]
			p := pt{((1-fx)*n[0].x+fx*n[1].x)*(1-fy) + ((1-fx)*m[0].x+fx*m[1].x)*fy,
				((1-fx)*n[0].y+fx*n[1].y)*(1-fy) + ((1-fx)*m[0].y+fx*m[1].y)*fy}
			if !pic.inside(p, 1) {
				row[i] = float32(math.NaN())
				continue
			}
			row[i] = float32(pic.at(p))
		}
	}
	return s
}

// world is the place of the strip's pixel (i, j).
func (s strip) world(i, j float64) Vec {
	return Vec{s.x0 + i/float64(s.per), s.y0 + j/float64(s.per), 0}
}

// column is the pixel at which x lies.
func (s strip) column(x float64) float64 { return (x - s.x0) * float64(s.per) }

// spot is a short stretch of a graduation: how much darker it is than the steel beside it, as a share, and where.
type spot struct {
	dark, x float64
	steel   float64 // brightness beside it
	y       float64
}

const (
	spotTall = 0.2 // pitches
	mostStep = 0.6 // of a line's depth by which the steel on its two sides may differ
	seekHalf = 0.3 // pitches to either side of its place in which a graduation is looked for
)

// spots reads the k-th graduation all along, at each height; dark is 0 where nothing can be read.
func (s strip) spots(k int) []spot {
	tall := max(2, int(spotTall*float64(s.per)+0.5))
	at := s.column(float64(k))
	half := int(math.Round(0.5 * float64(s.per)))
	from := int(math.Round(at)) - half
	n := 2*half + 1
	out := make([]spot, 0, s.h/tall)
	profile := make([]float64, n)
	for j := 0; j+tall <= s.h; j += tall {
		sp := spot{y: s.world(0, float64(j)+float64(tall-1)/2).Y}
		if from >= 0 && from+n <= s.w {
			for i := range profile {
				profile[i] = 0
				for r := range tall {
					profile[i] += float64(s.v[(j+r)*s.w+from+i]) / float64(tall)
				}
			}
			if centre, ok := sp.read(profile, at-float64(from), float64(s.per)); ok {
				sp.x = s.world(float64(from)+centre, 0).X
			}
		}
		out = append(out, sp)
	}
	return out
}

// read finds the dark line in a profile that reaches half a pitch to either side of where the line ought to be. The
// brightness between the lines, a straight one from side to side, is what darkness counts from.
func (sp *spot) read(v []float64, expected, per float64) (centre float64, ok bool) {
	n := len(v)
	rim := max(1, int(0.12*per))
	var a, b float64
	for i := range rim {
		a, b = a+v[i]/float64(rim), b+v[n-1-i]/float64(rim)
	}
	sp.steel = (a + b) / 2
	if math.IsNaN(sp.steel) {
		return 0, false
	}
	dark := func(i int) float64 {
		f := float64(i) / float64(n-1)
		base := a + f*(b-a)
		return (base - v[i]) / (base + brightFloor)
	}
	best := -1
	for i := range v {
		if math.Abs(float64(i)-expected) > seekHalf*per || i < 1 || i > n-2 {
			continue
		}
		if d := (dark(i-1) + 2*dark(i) + dark(i+1)) / 4; d > sp.dark {
			sp.dark, best = d, i
		}
	}
	if math.IsNaN(sp.dark) || best < 0 || math.Abs(a-b) > mostStep*sp.dark*(sp.steel+brightFloor) {
		sp.dark = 0 // nothing, or the rule's end, the rim of a shadow or of what covers it
		return 0, false
	}
	return centroid(dark, n, float64(best), 0.26*per), true
}

// centroid is the centre of gravity of what is dark, in a window that moves along with it so that its ends do not pull.
func centroid(dark func(i int) float64, n int, c, reach float64) float64 {
	for range 4 {
		var sum, first float64
		for i := max(0, int(math.Floor(c-reach))); i <= min(n-1, int(math.Ceil(c+reach))); i++ {
			weight := math.Min(1, math.Min(float64(i)-(c-reach), c+reach-float64(i))) // soft ends
			if d := dark(i); d > 0 && weight > 0 {
				sum, first = sum+weight*d, first+weight*d*float64(i)
			}
		}
		if sum <= 0 {
			return c
		}
		moved := first/sum - c
		c += moved
		if math.Abs(moved) < 1e-3 {
			break
		}
	}
	return c
}

// tick is a graduation as it was read off the strip; lengths in pitches.
type tick struct {
	k         int
	low, high float64 // y of its two ends
	cut       bool    // one of them is where the picture ends
	dark      float64 // median share
	steel     float64 // median brightness beside it
	x, slope  float64 // x = x + slope·(y - y)
	y, reach  float64 // middle of its spots, and their standard deviation
}

const (
	offPlace  = 0.13 // pitches that a spot may lie off the row's place for it
	darkShare = 0.35 // of the row's usual darkness that makes a spot
	leastDark = 0.04
	leastTall = 1.2 // pitches that a graduation is at least long
)

// ticks reads all graduations from low to high.
func (s strip) ticks(low, high int) []tick {
	all := make([][]spot, high-low+1)
	var usual []float64
	for k := low; k <= high; k++ {
		all[k-low] = s.spots(k)
		var best []float64
		for _, sp := range all[k-low] {
			if sp.dark > 0 && math.Abs(sp.x-float64(k)) < offPlace {
				best = append(best, sp.dark)
			}
		}
		if len(best) > 0 {
			usual = append(usual, subpixel.Percentile(best, 80))
		}
	}
	if len(usual) == 0 {
		return nil
	}
	least := math.Max(leastDark, darkShare*subpixel.Percentile(usual, 60))
	var out []tick
	for k := low; k <= high; k++ {
		if t, ok := longestRun(all[k-low], k, least); ok {
			out = append(out, t)
		}
	}
	return out
}

// longestRun finds the longest unbroken run of dark spots at the place of the k-th graduation; one spot may be missing.
func longestRun(spots []spot, k int, least float64) (tick, bool) {
	var best, run []spot
	gap, last := 0, 0
	for i, sp := range spots {
		if sp.dark >= least && math.Abs(sp.x-float64(k)) < offPlace {
			run, gap = append(run, sp), 0
			if len(run) > len(best) {
				best, last = slices.Clone(run), i
			}
			continue
		}
		if gap++; gap > 1 {
			run = run[:0]
		}
	}
	if len(best) < 3 || best[len(best)-1].y-best[0].y < leastTall {
		return tick{}, false
	}
	t := tick{k: k, low: best[0].y, high: best[len(best)-1].y}
	first := last
	for first > 0 && spots[first].y > t.low {
		first--
	}
	unseen := func(i int) bool { return i < 0 || i >= len(spots) || math.IsNaN(spots[i].steel) }
	t.cut = unseen(first-1) || unseen(last+1)
	return t, t.fit(best)
}

// fit lays a straight line through the spots, less those that lie off.
func (t *tick) fit(spots []spot) bool {
	for range 3 {
		n := float64(len(spots))
		var y, x, yy, xy float64
		for _, sp := range spots {
			y, x = y+sp.y/n, x+sp.x/n
		}
		for _, sp := range spots {
			yy, xy = yy+(sp.y-y)*(sp.y-y)/n, xy+(sp.y-y)*(sp.x-x)/n
		}
		t.y, t.x, t.slope, t.reach = y, x, xy/math.Max(yy, 1e-9), math.Sqrt(yy)
		off := make([]float64, len(spots))
		for i, sp := range spots {
			off[i] = math.Abs(sp.x - t.x - t.slope*(sp.y-t.y))
		}
		limit := math.Max(3*1.4826*subpixel.Percentile(off, 50), 0.01)
		kept := spots[:0:0]
		for i, sp := range spots {
			if off[i] <= limit {
				kept = append(kept, sp)
			}
		}
		if len(kept) == len(spots) {
			break
		}
		if len(kept) < 3 {
			return false
		}
		spots = kept
	}
	var dark, steel []float64
	for _, sp := range spots {
		dark, steel = append(dark, sp.dark), append(steel, sp.steel)
	}
	t.dark, t.steel = subpixel.Percentile(dark, 50), subpixel.Percentile(steel, 50)
	return len(spots) >= 3
}
