package photo

import (
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// side of the sleeve: +1 left (y > 0), -1 right.
type side float64

const (
	left  side = 1
	right side = -1
)

// outline is one long side of the sleeve as seen: the straight line behind the bellmouth, and single borders along
// the whole length.
type outline struct {
	line    subpixel.Line
	borders []subpixel.Point // x, y in mm
	u       float64          // standard uncertainty (mm) of where the border itself lies
}

// at is the straight line's y at x.
func (o outline) at(x float64) float64 {
	return lineAt(o.line, x)
}

// lineAt is the y of a line that runs roughly along x.
func lineAt(l subpixel.Line, x float64) float64 { return l.Mid.Y + (x-l.Mid.X)*l.Dir.Y/l.Dir.X }

// fitAlong is the robust line through points that lie roughly along x, its direction towards growing x.
func fitAlong(points []subpixel.Point) (subpixel.Line, error) {
	l, err := subpixel.FitLineRobust(points)
	if l.Dir.X < 0 {
		l.Dir.X, l.Dir.Y = -l.Dir.X, -l.Dir.Y
	}
	return l, err
}

const (
	borderReachMM = 0.4  // how far the ground beside the sleeve is fitted
	metalReachMM  = 0.18 // and how far the metal
	blocksAcross  = 10
	bellClearMM   = 1.3 // behind the rear edge the flare is over
	frontClearMM  = 0.45
)

// fitSide finds the border near at (mm outwards) in each block and fits a line through them.
func (b *bench) fitSide(s side, blocks [][][]float64, at, x0, step float64) (o outline, ok bool) {
	for k, p := range blocks {
		x := x0 + (float64(k)+0.5)*step
		e := subpixel.SettleBorder(p, at*b.ppm, b.sideReach(), b.blurPX)
		o.borders = append(o.borders, subpixel.Point{X: x, Y: float64(s) * e.Pos / b.ppm})
	}
	if len(o.borders) < blocksAcross/2 {
		return o, false
	}
	var err error
	o.line, err = fitAlong(o.borders)
	return o, err == nil && o.line.Dir.X > 0.9
}

// levelled returns the side with its line parallel to x: once the frame is turned into the axis, what is left of a
// side's slope is noise.
func (o outline) levelled() outline {
	var y []float64
	for _, p := range o.borders {
		y = append(y, p.Y)
	}
	median, off, sd := aboutMedian(y)
	sd = math.Max(sd, 0.005)
	var n, sum, square float64
	for _, v := range off {
		if math.Abs(v) < 3*sd {
			n, sum, square = n+1, sum+v, square+v*v
		}
	}
	o.line.Mid.Y, o.line.Dir = median+sum/n, subpixel.Point{X: 1}
	o.line.SD = math.Sqrt(square / math.Max(1, n-1))
	o.line.UOffset = o.line.SD / math.Sqrt(n)
	return o
}

// axisTurn is the direction of the sleeve's axis in the frame (radians): the mean of both sides and the seam, weighted by how
// well each is known; a seam may run askew by a degree, a side hardly.
func axisTurn(l, r, seam subpixel.Line) (turn, u float64) {
	var w, sum float64
	add := func(line subpixel.Line, sd float64) {
		k := 1 / (sq(line.UAngle) + sq(sd*math.Pi/180))
		w, sum = w+k, sum+k*math.Atan2(line.Dir.Y, line.Dir.X)
	}
	add(l, 0.18)
	add(r, 0.18)
	add(seam, 0.504)
	return sum / w, 1 / math.Sqrt(w)
}

// outward is a profile from y = 0 outwards on one side, over from..far (mm).
func (b *bench) outward(s side, x0, x1, from, far float64) [][]float64 {
	return b.outwardFrom(s, 0, x0, x1, from, far)
}

// outwardFrom is a profile from y = centre outwards on one side, over from..far (mm).
func (b *bench) outwardFrom(s side, centre, x0, x1, from, far float64) [][]float64 {
	if s == left {
		return b.across(x0, x1, centre+from, centre+far, 0)
	}
	// The samples start at centre-from, which is the last one before turning round.
	p := b.across(x0, x1, centre-from-math.Floor((far-from)*b.ppm)/b.ppm, centre-from+1e-9, 0)
	for _, c := range p {
		slices.Reverse(c)
	}
	return p
}

// sideReach: the ground is smooth for a while, the metal within is not.
func (b *bench) sideReach() subpixel.Reach {
	return subpixel.Reach{Before: math.Max(metalReachMM*b.ppm, 4), After: borderReachMM * b.ppm}
}

func sq(x float64) float64 { return x * x }

// aboutMedian gives the median, how far each value lies from it, and the robust standard deviation.
func aboutMedian(v []float64) (median float64, off []float64, sd float64) {
	median = subpixel.Percentile(v, 50)
	off = make([]float64, len(v))
	for i, x := range v {
		off[i] = x - median
	}
	return median, off, subpixel.MAD(off)
}

// spreadOf is the standard deviation of a profile over i0..i1, the largest of the channels.
func spreadOf(p [][]float64, i0, i1 int) float64 {
	worst := 0.0
	for _, c := range p {
		var n, s, ss float64
		for i := i0; i < min(i1, len(c)); i++ {
			n, s, ss = n+1, s+c[i], ss+c[i]*c[i]
		}
		worst = math.Max(worst, math.Sqrt(math.Max(0, ss/n-s*s/n/n)))
	}
	return worst
}

// medianProfile is the median over the blocks, sample by sample: a stray strand or a hole in one block leaves no trace.
func medianProfile(blocks [][][]float64) [][]float64 {
	out := make([][]float64, len(blocks[0]))
	v := make([]float64, len(blocks))
	for c := range out {
		out[c] = make([]float64, len(blocks[0][c]))
		for i := range out[c] {
			for k := range blocks {
				v[k] = blocks[k][c][i]
			}
			slices.Sort(v)
			out[c][i] = (v[(len(v)-1)/2] + v[len(v)/2]) / 2
		}
	}
	return out
}

// markOutline notes the side for drawing.
func (b *bench) markOutline(o outline, rear, front float64) {
	b.mark(record.MarkEdge, record.SleeveWidth, 0, [2]float64{rear, o.at(rear)}, [2]float64{front, o.at(front)})
}
