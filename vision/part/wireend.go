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
// edge between black insulation and its own shadow weighs nearly as much as a hard one.
const (
	endGradientLimit = 0.15 // log units per pixel
	endAngleStepDeg  = 5
	endSideMM        = 3.5 // how far back both sides must run; wires may bend soon after
	endsKept         = 24
)

// findWireEnds lists likely wire ends, best first, for the widths in widthsMM.
func findWireEnds(l *Level, widthsMM []float64) []wireEnd {
	gx, gy := l.gradient(endGradientLimit)
	w, h := gx.W, gx.H
	side := int(math.Ceil(math.Hypot(float64(w), float64(h))))
	var found []wireEnd
	for a := 0; a < 180; a += endAngleStepDeg {
		t := float64(a) * math.Pi / 180
		rot := rotated(gx, gy, t, side)
		for _, flip := range []bool{false, true} {
			for _, d := range widthsMM {
				found = append(found, bestEnds(l, rot, t, flip, d)...)
			}
		}
	}
	sort.Slice(found, func(i, j int) bool { return found[i].Score > found[j].Score })
	return spread(found)
}

// turned is the gradient seen in a frame turned so that the axis under test is +x: along and across it.
type turned struct {
	along, across Plane // absolute values
	cos, sin      float64
	cx, cy, half  float64
}

func rotated(gx, gy Plane, t float64, side int) turned {
	r := turned{along: NewPlane(side, side), across: NewPlane(side, side), cos: math.Cos(t), sin: math.Sin(t),
		cx: float64(gx.W-1) / 2, cy: float64(gx.H-1) / 2, half: float64(side) / 2}
	for j := range side {
		for i := range side {
			u, v := float64(i)-r.half, float64(j)-r.half
			x, y := r.cx+u*r.cos-v*r.sin, r.cy+u*r.sin+v*r.cos
			if x < 0 || y < 0 || x >= float64(gx.W-1) || y >= float64(gx.H-1) {
				continue
			}
			k := int(y+0.5)*gx.W + int(x+0.5)
			a, b := float64(gx.Pix[k]), float64(gy.Pix[k])
			r.along.Pix[j*side+i] = float32(math.Abs(a*r.cos + b*r.sin))
			r.across.Pix[j*side+i] = float32(math.Abs(b*r.cos - a*r.sin))
		}
	}
	return r
}

// back gives the level pixel of a place in the turned frame.
func (r turned) back(i, j float64) (x, y float64) {
	u, v := i-r.half, j-r.half
	return r.cx + u*r.cos - v*r.sin, r.cy + u*r.sin + v*r.cos
}

// bestEnds scores every place of the turned frame as the end of a bar of width d and keeps the best few.
func bestEnds(l *Level, r turned, t float64, flip bool, d float64) []wireEnd {
	n := r.along.W
	half := int(math.Round(d / 2 * l.PPM))
	run := int(endSideMM * l.PPM)
	sides := NewPlane(n, n) // mean edge strength along the last endSideMM, for a bar's long side at this row
	calm := NewPlane(n, n)  // all gradient there: what must not be inside a bar
	for j := range n {
		var edge, any float32
		for k := range n {
			i := k
			if flip {
				i = n - 1 - k
			}
			al, ac := r.along.Pix[j*n+i], r.across.Pix[j*n+i]
			edge += ac - al/2
			any += al + ac
			if k >= run {
				o := i - run
				if flip {
					o = i + run
				}
				al, ac = r.along.Pix[j*n+o], r.across.Pix[j*n+o]
				edge -= ac - al/2
				any -= al + ac
			}
			sides.Pix[j*n+i], calm.Pix[j*n+i] = edge/float32(run), any/float32(run)
		}
	}
	var best []wireEnd
	caps := make([]float32, n+1)
	inside := make([]float32, n+1)
	back := 2
	if flip {
		back = -2
	}
	for i := 3; i < n-3; i++ {
		for j := range n {
			c := max(r.along.Pix[j*n+i-1]-r.across.Pix[j*n+i-1]/2, r.along.Pix[j*n+i]-r.across.Pix[j*n+i]/2,
				r.along.Pix[j*n+i+1]-r.across.Pix[j*n+i+1]/2)
			caps[j+1] = caps[j] + c
			inside[j+1] = inside[j] + calm.Pix[j*n+i-back]
		}
		for j := half + 2; j < n-half-2; j++ {
			up := max(sides.Pix[(j-half-1)*n+i], sides.Pix[(j-half)*n+i], sides.Pix[(j-half+1)*n+i])
			dn := max(sides.Pix[(j+half-1)*n+i], sides.Pix[(j+half)*n+i], sides.Pix[(j+half+1)*n+i])
			if up < 0.01 || dn < 0.01 {
				continue
			}
			cap := (caps[j+half-1] - caps[j-half+2]) / float32(2*half-3)
			calm := (inside[j+half-2] - inside[j-half+3]) / float32(2*half-5)
			s := float64(min(up, dn) + max(up, dn)/2 + 1.2*cap - 2*calm)
			if s < 0.05 {
				continue
			}
			best = keepBest(best, wireEnd{X: float64(i), Y: float64(j), D: d, Score: s}, 6, 2*l.PPM)
		}
	}
	angle := -t // the level's rows run down, the world's y up
	if flip {
		angle += math.Pi
	}
	for k := range best {
		x, y := r.back(best[k].X, best[k].Y)
		best[k].X, best[k].Y, best[k].Angle = l.X0+x/l.PPM, l.Y0-y/l.PPM, angle
	}
	return best
}

// keepBest inserts e into the at most n best ones, which stand at least apart from each other.
func keepBest(best []wireEnd, e wireEnd, n int, apart float64) []wireEnd {
	for k := range best {
		if math.Hypot(best[k].X-e.X, best[k].Y-e.Y) < apart {
			if best[k].Score < e.Score {
				best[k] = e
			}
			return best
		}
	}
	if len(best) < n {
		return append(best, e)
	}
	low := 0
	for k := range best {
		if best[k].Score < best[low].Score {
			low = k
		}
	}
	if best[low].Score < e.Score {
		best[low] = e
	}
	return best
}

// spread keeps the best of neighbours that say the same and at most endsKept of them.
func spread(found []wireEnd) []wireEnd {
	var kept []wireEnd
next:
	for _, e := range found {
		for _, k := range kept {
			turn := math.Abs(math.Remainder(e.Angle-k.Angle, 2*math.Pi))
			if math.Hypot(e.X-k.X, e.Y-k.Y) < 1.5 && turn < 0.3 {
				continue next
			}
		}
		kept = append(kept, e)
		if len(kept) == endsKept {
			break
		}
	}
	return kept
}
