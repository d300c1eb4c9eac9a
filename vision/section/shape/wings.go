package shape

import (
	"errors"
	"math"

	"crimprule/vision/section/raster"
)

// wing is one wing's border inside the cavity.
type wing struct {
	to     int // index (negative: to the right) of the pocket's top behind the wing
	tip    raster.Point
	at     int
	sharp  bool // the tip is a corner, not a round
	onWall bool // the tip touches floor or wall
}

// findWings follows the roof from the contact to either side. A wing's border ends at the top of the pocket between it
// and its own side wall; its tip is the lowest point on the way.
func (c *cavity) findWings() {
	low := 0 // the floor
	for i, p := range c.p {
		if p.Y < c.p[low].Y {
			low = i
		}
	}
	c.wings[0] = c.follow(1, low)
	c.wings[1] = c.follow(-1, len(c.p)-low)
}

// follow walks n steps from the contact.
func (c *cavity) follow(dir, n int) wing {
	if n < 2 { // the contact is the lowest point: no roof
		return wing{tip: c.p[0], sharp: true}
	}
	y := make([]float64, n)
	for k := range n {
		y[k] = c.mean(dir*k, 1).Y
	}
	// The first drop ends at the tip or, past a shoulder of the wing, at a lower one; the pocket's top is the highest
	// point after it.
	first := -1
	for _, swing := range swings(c.edge.Random) {
		for _, e := range turningPoints(y, swing) {
			if !e.top && e.i > 0 && first < 0 {
				first = e.i
			}
		}
	}
	w := wing{}
	top := first
	if first >= 0 {
		for k := first; k < n; k++ {
			if y[k] > y[top] {
				top = k
			}
		}
	}
	if first < 0 || top == first { // no pocket: the wing lies on the wall down to its tip
		top = c.corner(dir, n)
		w.onWall = true
	}
	w.to = dir * top
	low := 0
	for k := 0; k <= top; k++ {
		if y[k] < y[low] {
			low = k
		}
	}
	w.at = dir * low
	w.tip, w.sharp = c.lowPoint(w.at)
	for _, j := range c.joints {
		for _, e := range j {
			if d := wrap(dir*e, len(c.p)); d <= top && math.Abs(float64(d-low)) < float64(c.steps(0.08)) {
				w.onWall = true
			}
		}
	}
	return w
}

// swings are the rises and falls by which the roof's tips and hollows are told, the sure ones first: no blunder of the
// edge is as large as the first.
func swings(sigma float64) []float64 {
	least := math.Max(0.012, 4*sigma)
	return []float64{math.Max(0.04, least), math.Max(0.02, least), least}
}

// corner is the sharpest hollow of the metal on the way from the contact to the floor: where a wing's tip meets the
// wall that it lies against.
func (c *cavity) corner(dir, n int) int {
	half := c.steps(0.04)
	best, at := 0., n/2
	for k := half; k < n-half; k++ {
		a, b, d := c.mean(dir*(k-half), half/2), c.mean(dir*k, 1), c.mean(dir*(k+half), half/2)
		turn := float64(dir) * raster.Cross(a, b, d) / math.Max(dist(a, b)*dist(b, d), 1e-12)
		if turn > best {
			best, at = turn, k
		}
	}
	return at
}

// sharpMM is the radius below which a tip is a corner: of the size of what a microscope blurs.
const sharpMM = 0.04

// lowPoint is the border's lowest point about index i, and whether it is a corner. The window is short, since tips may
// be sharp; where even that parabola leaves more than the edge's own scatter, the lowest point counts as it stands.
func (c *cavity) lowPoint(i int) (raster.Point, bool) {
	k := c.steps(0.02)
	t, s := make([]float64, 0, 2*k+1), make([]float64, 0, 2*k+1)
	for m := i - k; m <= i+k; m++ {
		q := c.at(m)
		t, s = append(t, float64(m-i)*c.step), append(s, q.Y)
	}
	f := fitParabola(t, s)
	if f.c > 0 && f.spread < math.Max(0.0005, 1.5*c.edge.Random) {
		if v := -f.b / (2 * f.c); math.Abs(v) < 0.02 {
			q := c.at(i + int(math.Round(v/c.step)))
			return raster.Point{X: q.X, Y: f.at(v)}, 2*f.c > 1/sharpMM
		}
	}
	best := c.at(i)
	for m := i - 2; m <= i+2; m++ {
		if q := c.at(m); q.Y < best.Y {
			best = q
		}
	}
	return best, true
}

// Angles of the floor's inner face to the level, within which it counts as floor: the round of a bottom corner belongs
// to it unless it is steeper than two to one, and not to the place where its thickness is sought.
const (
	floorTurnRad  = 1.107
	steepMM       = 0.016 // half the length over which the direction is taken
	bottomTurnRad = math.Pi / 6
)

// findFloor takes the floor's inner face: the lower run between the two walls, with cracks bridged.
func (c *cavity) findFloor() error {
	from, to := c.wings[0].to, len(c.p)+c.wings[1].to
	if to-from < 8 {
		return errors.New("the cavity shows no floor between the wings' pockets")
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := from; i <= to; i++ {
		lo, hi = math.Min(lo, c.at(i).Y), math.Max(hi, c.at(i).Y)
	}
	limit := lo + 0.4*(hi-lo)
	first, last, run := -1, -1, 0
	for i := from; i <= to; i++ {
		if c.at(i).Y > limit || math.Abs(c.heading(i, steepMM)) > floorTurnRad {
			run = 0
			continue
		}
		if run++; run < c.steps(2*steepMM) { // scatter may level a wall for a moment
			continue
		}
		if first < 0 {
			first = i - run + 1
		}
		last = i
	}
	if last-first < 8 {
		return errors.New("the cavity's lower border does not run along a floor")
	}
	raw := make([]raster.Point, 0, last-first+1)
	for i := first; i <= last; i++ {
		raw = append(raw, c.mean(i, 1))
	}
	raw = bridged(raw)
	k := c.steps(floorMM)
	for i := range raw {
		c.floor = append(c.floor, smoothedRun(raw[max(0, i-k):min(len(raw), i+k+1)], raw[i]))
	}
	return nil
}

// floorMM is the window either side of the local fits to the floor's inner face: short against a strand's dent.
const floorMM = 0.035

// smoothedRun is the place on a robust parabola through the run that is beside q.
func smoothedRun(run []raster.Point, q raster.Point) raster.Point {
	a, b := run[0], run[len(run)-1]
	l := dist(a, b)
	if len(run) < 5 || l == 0 {
		return q
	}
	cos, sin := (b.X-a.X)/l, (b.Y-a.Y)/l
	t, s := make([]float64, len(run)), make([]float64, len(run))
	for i, p := range run {
		dx, dy := p.X-q.X, p.Y-q.Y
		t[i], s[i] = dx*cos+dy*sin, dy*cos-dx*sin
	}
	f := fitParabola(t, s)
	return raster.Point{X: q.X - f.a*sin, Y: q.Y + f.a*cos}
}

// crackMM is the widest mouth of a crack: what is wider is the dent of a strand.
const crackMM = 0.08

// bridged closes narrow notches that the cavity drives into the floor: where two points of the border are close and
// the border between them dives deeper than they are apart.
func bridged(p []raster.Point) []raster.Point {
	out := p[:0:0]
	for i := 0; i < len(p); i++ {
		out = append(out, p[i])
		deepest, end := 0., i
		for j, run := i+1, 0.; j < len(p) && run < 1.5; j++ {
			run += dist(p[j-1], p[j])
			if d := dist(p[i], p[j]); d < crackMM && run > 3*d && run > 0.06 && run > deepest {
				deepest, end = run, j
			}
		}
		if end > i {
			i = end - 1
		}
	}
	return out
}
