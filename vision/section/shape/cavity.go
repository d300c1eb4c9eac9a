package shape

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
)

// cavity is the sleeve's cavity in the level frame, all pieces joined into one curve: counterclockwise, so the floor
// runs to the right. The curve starts at the contact and goes down the left wing.
type cavity struct {
	curve
	edge   Edge
	pieces [][]raster.Point // as handed over, level frame
	joints [][2]int         // where a piece was joined: the curve jumps from the first index to the second
	// contact is where the wings touch lowest, or the middle of the shortest link; link its two ends, left and right.
	contact raster.Point
	link    [2]raster.Point
	opening float64
	lean    float64 // how far the contact moves across the seam per mm of the gap there
	wings   [2]wing
	floor   []raster.Point // the floor's inner face, left to right
}

// pocketShare is the area below which a piece is a void between strands and no part of the cavity: a share of all.
const pocketShare = 0.004

// cavityLengths takes what the cavity shows. What is missing in f afterwards is missing for the reason in the error.
func cavityLengths(in Input, o *outline, f *Found) error {
	c, err := newCavity(in, o)
	if err != nil {
		return err
	}
	c.findWings()
	if err := c.findFloor(); err != nil {
		return err
	}
	f.Contact = o.frame.From(c.contact)
	f.Link = [2]raster.Point{o.frame.From(c.link[0]), o.frame.From(c.link[1])}
	f.TipLeft, f.TipRight = o.frame.From(c.wings[0].tip), o.frame.From(c.wings[1].tip)
	f.Values[record.WingOpening] = c.openingValue(o)
	f.Values[record.FloorThickness] = c.thickness(o)
	f.Values[record.WingTipFloorLeft] = c.tipFloor(o, c.wings[0])
	f.Values[record.WingTipFloorRight] = c.tipFloor(o, c.wings[1])
	f.Values[record.WingTipHeightDifference] = c.tipDifference(o)
	c.symmetry(o, f)
	return nil
}

// newCavity joins what was handed over.
func newCavity(in Input, o *outline) (*cavity, error) {
	if o.notch.depth == 0 {
		return nil, errors.New("no notch between two lobes shows on the outline, so the wings cannot be told apart")
	}
	c := &cavity{edge: in.InnerEdge}
	for i, p := range in.Cavities {
		if err := checked(p, fmt.Sprintf("cavity's piece %d", i+1)); err != nil {
			return nil, err
		}
		q := make([]raster.Point, len(p))
		for k := range p {
			q[k] = o.frame.To(p[k])
		}
		if raster.Area(q) < 0 {
			slices.Reverse(q)
		}
		c.pieces = append(c.pieces, q)
	}
	open, err := c.channel(o)
	if err != nil {
		return nil, err
	}
	if c.dropVoids(o); len(c.pieces) == 0 {
		return nil, errors.New("no cavity was found inside the sleeve")
	}
	c.join()
	if open {
		c.startAt(c.nearestIndex(c.contact))
		return c, nil
	}
	return c, c.cusp(in, o)
}

// dropVoids leaves out pieces too small to be cavity, and pockets inside the seam: those lie above a larger piece and
// between the notch and it.
func (c *cavity) dropVoids(o *outline) {
	total := 0.
	for _, p := range c.pieces {
		total += raster.Area(p)
	}
	notch := o.at(o.notch.deepest)
	c.pieces = slices.DeleteFunc(c.pieces, func(p []raster.Point) bool {
		if raster.Area(p) <= pocketShare*total {
			return true
		}
		lo, hi, left, right := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, q := range p {
			lo, hi = math.Min(lo, q.Y), math.Max(hi, q.Y)
			left, right = math.Min(left, q.X), math.Max(right, q.X)
		}
		slim := right-left < 0.5*(hi-lo) && raster.Area(p) < 0.02*total
		return slim && left < notch.X+0.1 && right > notch.X-0.1
	})
}

// join makes one curve of the pieces: each further piece is joined at the place where it comes nearest to what there
// is, which is where a wing's tip touches floor or wall.
func (c *cavity) join() {
	slices.SortFunc(c.pieces, func(a, b []raster.Point) int {
		if raster.Area(a) > raster.Area(b) {
			return -1
		}
		return 1
	})
	c.curve = even(c.pieces[0], stepMM)
	for _, p := range c.pieces[1:] {
		q := even(p, c.step)
		best, at, to := math.Inf(1), 0, 0
		for i, a := range c.p {
			for k, b := range q.p {
				if d := (a.X-b.X)*(a.X-b.X) + (a.Y-b.Y)*(a.Y-b.Y); d < best {
					best, at, to = d, i, k
				}
			}
		}
		at, to = c.sharpest(at), q.sharpest(to)
		joined := slices.Clone(c.p[:at+1])
		joined = append(joined, q.p[to:]...)
		joined = append(joined, q.p[:to+1]...)
		for i := range c.joints { // joints further along move on
			for e := range c.joints[i] {
				if c.joints[i][e] > at {
					c.joints[i][e] += len(q.p) + 2
				}
			}
		}
		c.joints = append(c.joints, [2]int{at, at + 1}, [2]int{at + len(q.p) + 1, at + len(q.p) + 2})
		c.p = append(joined, c.p[at:]...)
	}
}

// sharpest is the sharpest corner that the cavity drives into the metal within 0.1 mm of index i, which is where a wing's
// tip meets what it touches; i itself where nothing turns by half a radian.
func (c curve) sharpest(i int) int {
	half := min(c.steps(0.016), len(c.p)/8)
	best, at := 0.5, i
	for k := i - c.steps(0.1); k <= i+c.steps(0.1); k++ {
		a, b, d := c.at(k-half), c.mean(k, 1), c.at(k+half)
		if turn := math.Atan2(raster.Cross(a, b, d), (b.X-a.X)*(d.X-b.X)+(b.Y-a.Y)*(d.Y-b.Y)); turn > best {
			best, at = turn, wrap(k, len(c.p))
		}
	}
	return at
}

// even resamples a counterclockwise polygon to about the given step.
func even(p []raster.Point, step float64) curve {
	l := raster.Length(p)
	return resample(p, min(max(int(l/step), 48), 20000), l)
}

// startAt makes index i the first.
func (c *cavity) startAt(i int) {
	n := len(c.p)
	c.p = append(slices.Clone(c.p[i:]), c.p[:i]...)
	for k := range c.joints {
		c.joints[k] = [2]int{wrap(c.joints[k][0]-i, n), wrap(c.joints[k][1]-i, n)}
	}
}

func (c *cavity) nearestIndex(q raster.Point) int {
	best, at := math.Inf(1), 0
	for i, p := range c.p {
		if d := dist(p, q); d < best {
			best, at = d, i
		}
	}
	return at
}

// cusp finds where the wings cease to touch: the hollow of the cavity's roof below the notch, between two tips.
func (c *cavity) cusp(in Input, o *outline) error {
	low := 0
	for i, p := range c.p {
		if p.Y < c.p[low].Y {
			low = i
		}
	}
	c.startAt(low)
	y := make([]float64, len(c.p))
	for i := range c.p {
		y[i] = c.mean(i, 2).Y
	}
	goal := o.at(o.notch.deepest)
	if n := len(in.Seam); n > 0 {
		goal = o.frame.To(in.Seam[n-1])
	}
	at := c.hollow(y, goal, len(in.Seam) > 0, o.halfWidth)
	if at < 0 {
		return errors.New("the cavity's roof has no hollow between two wings' tips, so the place where the wings meet cannot be told")
	}
	c.startAt(at)
	c.contact, c.lean = c.mouth()
	c.link = [2]raster.Point{c.contact, c.contact}
	return nil
}

// hollow is the index of the roof's top that is nearest to goal (across only, where goal is no more than the notch), -1
// where there is none. Sure ones come first: those by a large swing whose border runs to the left as a roof's does; then
// those where scatter at the cusp hides the direction; then those further away.
func (c *cavity) hollow(y []float64, goal raster.Point, there bool, halfWidth float64) int {
	lo, hi := slices.Min(y), slices.Max(y)
	side := c.steps(0.06)
	for _, pass := range []struct {
		reach    float64
		leftward bool
	}{{0.2, true}, {0.2, false}, {0.35, true}} {
		for _, swing := range swings(c.edge.Random) {
			best, at := pass.reach*halfWidth, -1
			for _, e := range turningPoints(y, swing) {
				roof := c.mean(e.i+side, side/4).X < c.mean(e.i-side, side/4).X
				if !e.top || pass.leftward && !roof || y[e.i] < lo+0.2*(hi-lo) {
					continue
				}
				d := math.Abs(c.p[e.i].X - goal.X)
				if there {
					d = dist(c.p[e.i], goal)
				}
				if d < best {
					best, at = d, e.i
				}
			}
			if at >= 0 {
				return at
			}
		}
	}
	return -1
}

// cuspMM is how far the two flanks of the cusp stand apart at the contact: closer, no outline follows both. The flanks
// run together so slowly that touchMM, or twice that, lie some hundredths of a millimetre apart along the seam, and
// what matters, the place across it, differs by less than 0.002 mm.
const cuspMM = 0.007

// mouth is the place below the cusp's top where its flanks stand cuspMM apart, on a line fitted to the middle between
// them, and how much that line leans: its move across the seam per width of the gap.
func (c *cavity) mouth() (contact raster.Point, lean float64) {
	top := c.p[0]
	for k := -2; k <= 2; k++ {
		if q := c.at(k); q.Y > top.Y {
			top = q
		}
	}
	var gap, x, y []float64
	reach := c.steps(0.08)
	r := 0
	for k := range reach {
		l := c.mean(k, 1)
		for r < 2*reach && c.mean(-r, 1).Y > l.Y {
			r++
		}
		q := c.mean(-r, 1)
		if g := q.X - l.X; g > 0.3*cuspMM && g < 3*cuspMM {
			gap, x, y = append(gap, g), append(x, (q.X+l.X)/2), append(y, l.Y)
		}
	}
	if len(gap) < 3 {
		return top, 0
	}
	fx, fy := fitLine(gap, x), fitLine(gap, y)
	return raster.Point{X: fx.at(cuspMM), Y: fy.at(cuspMM)}, fx.b
}
