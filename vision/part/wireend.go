package part

import (
	"math"
	"sort"
)

// wireEnd is a place where a wire's insulation may end: two parallel edges a wire's width apart, closed by an edge
// across. X, Y (mm, world) is the middle of the cut end, Angle (radians, counter-clockwise in the world) points from the
// wire to the contact, D is the width (mm).
type wireEnd struct {
	X, Y, Angle, D, Score float64
}

// The search for wire ends works on edges only, since no colour tells insulation from a shadow or from the ground:
// a generalised Hough transform (Ballard 1981) whose template is a bar's end. Gradients are limited so that a faint
// edge between black insulation and its own shadow weighs nearly as much as a hard one. A search at half resolution
// over all angles proposes places, and a second one about each of these decides at full resolution.
const (
	endGradientLimit = 0.15 // log units per pixel of the level picture
	endAngles        = 72   // directions that are tried
	endSideMM        = 3.5  // how far back both sides must run; wires may bend soon after
	endsPerAngle     = 12
	endsProposed     = 150
	proposedApartMM  = 1    // the first search overlooks what lies nearer to a better place,
	endFineMM        = 0.75 // so the second looks this far around
	endsKept         = 24   // for a known width
	endsKeptGuessing = 32   // for several widths, since these bring more false ends
	keptApartMM      = 1.5
	keptApartRad     = 0.3
)

// bar is a wire end in the pixels of a field: the middle of its cut, and where it points (radians, x right, y down).
type bar struct {
	x, y, angle, d, score float64
}

// findWireEnds lists likely wire ends, best first, for the widths in widthsMM (ascending).
func findWireEnds(l *Level, widthsMM []float64) []wireEnd {
	fine := l.gradient(endGradientLimit)
	if fine.W < 2 || fine.H < 2 {
		return nil // nothing is left at half the resolution
	}
	proposed := spread(proposeEnds(fine.halved(), l.PPM/2, widthsMM), endsProposed, proposedApartMM*l.PPM/2, 0)
	var found []bar
	var t turned
	for _, e := range proposed {
		e.x, e.y = 2*e.x+0.5, 2*e.y+0.5
		found = append(found, refineEnd(&t, fine, e, l.PPM, widthsMM)...)
	}
	kept := endsKept
	if len(widthsMM) > 1 {
		kept = endsKeptGuessing
	}
	var ends []wireEnd
	for _, e := range spread(found, kept, keptApartMM*l.PPM, keptApartRad) {
		// The level's rows run down, the world's y up.
		ends = append(ends, wireEnd{X: l.X0 + e.x/l.PPM, Y: l.Y0 - e.y/l.PPM, Angle: -e.angle, D: e.d, Score: e.score})
	}
	return ends
}

// proposeEnds searches the whole field, whose resolution is ppm.
func proposeEnds(f field, ppm float64, widthsMM []float64) []bar {
	var found []bar
	var t turned
	widest := widthsMM[len(widthsMM)-1]
	for a := range endAngles / 2 {
		angle := float64(a) * 2 * math.Pi / endAngles
		c, s := math.Abs(math.Cos(angle)), math.Abs(math.Sin(angle))
		w, h := float64(f.W)*c+float64(f.H)*s, float64(f.W)*s+float64(f.H)*c
		t.look(f, ppm, angle, float64(f.W-1)/2, float64(f.H-1)/2, int(w/2)+1, int(h/2)+1, widest)
		for k, d := range widthsMM {
			if k > 0 && t.half(d) == t.half(widthsMM[k-1]) {
				continue // the same at this resolution
			}
			found = append(found, t.best(d, false, endsPerAngle, proposedApartMM)...)
			found = append(found, t.best(d, true, endsPerAngle, proposedApartMM)...)
		}
	}
	return found
}

// refineEnd searches at resolution ppm about e, in e's direction, for widths that the first search may have taken for
// e's. It gives what it found, at most one.
func refineEnd(t *turned, f field, e bar, ppm float64, widthsMM []float64) []bar {
	reach := int(endFineMM * ppm)
	t.look(f, ppm, e.angle, e.x, e.y, reach, reach, e.d+endFineMM)
	var found []bar
	for _, d := range widthsMM {
		if math.Abs(d-e.d) <= endFineMM {
			found = append(found, t.best(d, false, 1, keptApartMM)...)
		}
	}
	return spread(found, 1, 0, 0)
}

// turned is a field seen in a frame that is turned so that the axis under test runs along +x. Its places are counted
// from the middle: column i and row j show (cx + u·cos - v·sin, cy + u·sin + v·cos) of the field, u = i-i0, v = j-j0.
type turned struct {
	ppm, angle     float64
	cos, sin       float64
	cx, cy         float64
	w, h           int
	i0, j0         int
	reachX, reachY int // where ends are looked for: |u| and |v| up to these
	run            int // length of a bar's sides
	// Planes of w times h, the last two with a row more: they hold the sums over all rows above.
	sides []float32 // mean edge strength along the last run columns, if a bar's long side lay in this row
	broad []float32 // the largest of sides in three rows
	caps  []float32 // edge strength across, the largest of three columns
	calm  []float32 // mean of all gradient along the last run columns: what must not be inside a bar
	// Rows as they are read.
	edge, all, across []float32
	from, to          []int // columns of each row that show the field
}

// half is half a width in whole pixels.
func (t *turned) half(d float64) int { return int(math.Round(d / 2 * t.ppm)) }

// look turns the field about (cx, cy) and prepares the search within reachX, reachY of it, for widths up to widest (mm).
func (t *turned) look(f field, ppm, angle, cx, cy float64, reachX, reachY int, widest float64) {
	t.ppm, t.angle, t.cx, t.cy, t.reachX, t.reachY = ppm, angle, cx, cy, reachX, reachY
	t.cos, t.sin = math.Cos(angle), math.Sin(angle)
	t.run = int(endSideMM * ppm)
	t.i0, t.j0 = reachX+t.run+4, reachY+t.half(widest)+2
	t.w, t.h = 2*t.i0+1, 2*t.j0+1
	n := t.w * t.h
	t.sides, t.broad = cleared(t.sides, n), cleared(t.broad, n)
	t.caps, t.calm = cleared(t.caps, n+t.w), cleared(t.calm, n+t.w)
	t.edge, t.all, t.across = cleared(t.edge, t.w), cleared(t.all, t.w), cleared(t.across, t.w)
	t.from, t.to = t.from[:0], t.to[:0]
	for j := range t.h {
		from, to := t.read(f, j)
		t.from, t.to = append(t.from, from), append(t.to, to)
		t.sumUp(j, from, to)
	}
	for j := 1; j < t.h-1; j++ {
		a, b, c := t.sides[(j-1)*t.w:j*t.w], t.sides[j*t.w:][:t.w], t.sides[(j+1)*t.w:][:t.w]
		out := t.broad[j*t.w:][:t.w]
		for i := range out {
			out[i] = max(a[i], b[i], c[i])
		}
	}
}

// cleared returns n zeros, in s where they fit.
func cleared(s []float32, n int) []float32 {
	if cap(s) < n {
		return make([]float32, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// read fills edge, all and across for row j from column from up to, not including, to.
func (t *turned) read(f field, j int) (from, to int) {
	v := float64(j - t.j0)
	x, y := t.cx-float64(t.i0)*t.cos-v*t.sin, t.cy-float64(t.i0)*t.sin+v*t.cos
	lo, hi := within(0, float64(t.w-1), x, t.cos, float64(f.W-1))
	lo, hi = within(lo, hi, y, t.sin, float64(f.H-1))
	from, to = int(math.Ceil(lo)), int(math.Floor(hi))+1
	if from >= to {
		return 0, 0
	}
	const one = 1 << 16 // fixed point: nearest pixels are enough for sums over many
	px, py := int((x+float64(from)*t.cos+0.5)*one), int((y+float64(from)*t.sin+0.5)*one)
	dx, dy := int(math.Round(t.cos*one)), int(math.Round(t.sin*one))
	c, s := float32(t.cos), float32(t.sin)
	edge, all, across := t.edge[from:to], t.all[from:to], t.across[from:to]
	for k := range edge {
		g := f.V[(py>>16)*f.W+px>>16]
		al, ac := abs(g[0]*c+g[1]*s), abs(g[1]*c-g[0]*s)
		edge[k], all[k], across[k] = ac-al/2, al+ac, al-ac/2
		px, py = px+dx, py+dy
	}
	return from, to
}

// within narrows lo..hi to where 0 <= start + t·step <= most, with a little to spare for rounding.
func within(lo, hi, start, step, most float64) (float64, float64) {
	const spare = 0.05
	if math.Abs(step) < 1e-9 {
		if start < -0.45 || start > most+0.45 {
			return 1, 0
		}
		return lo, hi
	}
	a, b := (spare-0.5-start)/step, (most+0.5-spare-start)/step
	return max(lo, min(a, b)), min(hi, max(a, b))
}

func abs(v float32) float32 { return math.Float32frombits(math.Float32bits(v) &^ (1 << 31)) }

// sumUp makes row j of the planes from the row that was read.
func (t *turned) sumUp(j, from, to int) {
	w := t.w
	caps, calm := t.caps[(j+1)*w:][:w], t.calm[(j+1)*w:][:w]
	copy(caps, t.caps[j*w:][:w])
	copy(calm, t.calm[j*w:][:w])
	if from >= to {
		return
	}
	for i := max(from-1, 1); i < min(to+1, w-1); i++ {
		caps[i] += max(t.across[i-1], t.across[i], t.across[i+1])
	}
	sides := t.sides[j*w:][:w]
	over := 1 / float32(t.run)
	var edge, all float32
	for i := from; i < min(to+t.run, w); i++ {
		edge += t.edge[i]
		all += t.all[i]
		if o := i - t.run; o >= from {
			edge -= t.edge[o]
			all -= t.all[o]
		}
		sides[i] = edge * over
		calm[i] += all * over
	}
	clear(t.edge[from:to])
	clear(t.all[from:to])
	clear(t.across[from:to])
}

// best scores every place in reach as the end of a bar of width d (mm) that comes from -x, or from +x if flip is set,
// and keeps
// the best n, which stand at least apart mm from each other.
func (t *turned) best(d float64, flip bool, n int, apart float64) []bar {
	half, w := t.half(d), t.w
	capIn, calmIn := int(math.Round(0.5*t.ppm)), int(math.Round(0.75*t.ppm)) // how far inside the sides they are looked at
	side, calm, angle := 0, -int(0.5*t.ppm), t.angle
	if flip {
		side, calm, angle = t.run-1, t.run-1-calm, angle+math.Pi
	}
	perCap, perCalm := 1.2/float32(2*(half-capIn)+1), 2/float32(2*(half-calmIn)+1)
	var best []bar
	least := float32(0.05)
	for j := t.j0 - t.reachY; j <= t.j0+t.reachY; j++ {
		from, to := max(t.from[j], t.i0-t.reachX), min(t.to[j], t.i0+t.reachX+1)
		if from >= to {
			continue
		}
		m := to - from
		up, down := t.broad[(j-half)*w+from+side:][:m], t.broad[(j+half)*w+from+side:][:m]
		cap0, cap1 := t.caps[(j-half+capIn)*w+from:][:m], t.caps[(j+half-capIn+1)*w+from:][:m]
		calm0, calm1 := t.calm[(j-half+calmIn)*w+from+calm:][:m], t.calm[(j+half-calmIn+1)*w+from+calm:][:m]
		for k := range up {
			a, b := up[k], down[k]
			if a < 0.01 || b < 0.01 {
				continue
			}
			s := min(a, b) + max(a, b)/2 + perCap*(cap1[k]-cap0[k]) - perCalm*(calm1[k]-calm0[k])
			if s < least {
				continue
			}
			best = keepBest(best, bar{x: float64(from + k - t.i0), y: float64(j - t.j0), angle: angle, d: d, score: float64(s)},
				n, apart*t.ppm)
			if len(best) == n {
				least = lowest(best)
			}
		}
	}
	for k, b := range best {
		best[k].x, best[k].y = t.cx+b.x*t.cos-b.y*t.sin, t.cy+b.x*t.sin+b.y*t.cos
	}
	return best
}

// lowest is the score that an end must beat to get among the best.
func lowest(best []bar) float32 {
	low := best[0].score
	for _, b := range best {
		low = min(low, b.score)
	}
	return float32(low)
}

// keepBest inserts e into the at most n best ones, which stand at least apart from each other.
func keepBest(best []bar, e bar, n int, apart float64) []bar {
	low := 0
	for k, b := range best {
		if math.Hypot(b.x-e.x, b.y-e.y) < apart {
			if b.score < e.score {
				best[k] = e
			}
			return best
		}
		if b.score < best[low].score {
			low = k
		}
	}
	switch {
	case len(best) < n:
		best = append(best, e)
	case best[low].score < e.score:
		best[low] = e
	}
	return best
}

// spread sorts the ends, best first, and keeps at most n: of those nearer than apart (px) whose directions differ by same
// (radians) or less, the best.
func spread(found []bar, n int, apart, same float64) []bar {
	sort.Slice(found, func(i, j int) bool { return found[i].score > found[j].score })
	var kept []bar
next:
	for _, e := range found {
		for _, k := range kept {
			turn := math.Abs(math.Remainder(e.angle-k.angle, 2*math.Pi))
			if math.Hypot(e.x-k.x, e.y-k.y) < apart && turn <= same {
				continue next
			}
		}
		kept = append(kept, e)
		if len(kept) == n {
			break
		}
	}
	return kept
}
