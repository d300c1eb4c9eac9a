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
	calmReachMM   = 0.3  // a shadow is at least this wide and as smooth as the ground
	blocksAcross  = 10
	bellClearMM   = 1.3 // behind the rear edge the flare is over
	frontClearMM  = 0.45
	calmTimes     = 3     // a stretch is calm up to this many times the rms residual of the calmest fifth
	calmShare     = 0.008 // or this share of the sleeve's own contrast
)

// findOutlines finds the sleeve's two sides. Which borders they are is told from the median over blocks along the sleeve;
// where they are, from each block.
func (b *bench) findOutlines(rear, front float64) (l, r outline, ok bool) {
	x0, x1 := rear+bellClearMM, front-frontClearMM
	d := b.part.WireMM
	near, far := 0.2*d, 0.5*d+0.6
	step := (x1 - x0) / blocksAcross
	profiles := map[side][][][]float64{}
	for _, s := range []side{left, right} {
		for k := range blocksAcross {
			x := x0 + float64(k)*step
			profiles[s] = append(profiles[s], b.outward(s, x, x+step, 0, far+2*borderReachMM+0.2))
		}
	}
	cl := b.candidates(medianProfile(profiles[left]), near, far)
	cr := b.candidates(medianProfile(profiles[right]), near, far)
	atLeft, atRight, ok := b.choose(cl, cr)
	if !ok {
		return l, r, false
	}
	l, okL := b.fitSide(left, profiles[left], atLeft, x0, step)
	r, okR := b.fitSide(right, profiles[right], atRight, x0, step)
	return l, r, okL && okR
}

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
	add(l, 0.25)
	add(r, 0.25)
	add(seam, 0.7)
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

// candidate is a border that may be the sleeve's side: its place outwards from the seam (mm) and how much speaks for it.
type candidate struct{ at, merit float64 }

// candidates lists the places of a profile from the seam outwards where, coming from outside, a calm stretch ends: the
// ground and shadows on it are smooth, metal is not. Against a candidate speaks that a calm stretch begins again right
// behind it that is darker than the ground: then it most likely is the edge of a shadow.
func (b *bench) candidates(p [][]float64, nearMM, farMM float64) []candidate {
	contrast := spreadOf(p, 0, int(nearMM*b.ppm)+1)
	starts, limit := b.calmStarts(p, nearMM*b.ppm, farMM*b.ppm, contrast)
	var out []candidate
	for k, at := range starts {
		e := subpixel.SettleBorder(p, at-b.blurPX, b.sideReach(), b.blurPX)
		strength, _ := subpixel.BorderStrength(p, e.Pos, b.sideReach(), b.blurPX)
		merit := 0.4 * math.Max(-2, math.Min(3, math.Log(math.Sqrt(strength)/limit)))
		merit += 0.4 * float64(k) // the farther out, the less likely that anything smooth beyond it is metal
		if b.shadowed(p, e.Pos, limit) {
			merit -= 2.5
		}
		out = append(out, candidate{e.Pos / b.ppm, merit})
	}
	return out
}

// shadowed tells whether what lies within a border is most likely the ground in shadow: calm, darker than outside, and by
// about the same factor in all channels, as shade is and another material mostly is not.
func (b *bench) shadowed(p [][]float64, at, limit float64) bool {
	calm, gap := calmReachMM*b.ppm, 2*b.blurPX
	if math.Sqrt(unrest(p, at-gap-calm, at-gap)) > 2*limit {
		return false
	}
	least, most := math.Inf(1), 0.0
	for _, c := range p {
		ratio := (meanOf(c[max(0, int(at-gap-calm/2)):int(at-gap)]) + 5) / (meanOf(c[int(at+gap):int(at+gap+calm/2)]) + 5)
		least, most = math.Min(least, ratio), math.Max(most, ratio)
	}
	return most < 0.97 && most/least < shadeTint
}

// shadeTint is how far the channels of a shadow may differ: the sky's light tints it.
const shadeTint = 1.3

// calmStarts lists, from inside outwards, where stretches of at least calmReachMM begin over which the profile is as
// straight as the calmest parts of the picture beside the sleeve. limit is the rms residual that was let pass.
func (b *bench) calmStarts(p [][]float64, from, to, contrast float64) (starts []float64, limit float64) {
	reach := calmReachMM * b.ppm
	n := int((to-from)/0.5) + 1
	rough := make([]float64, n)
	for k := range rough {
		at := from + float64(k)/2
		rough[k] = math.Sqrt(unrest(p, at, at+reach))
	}
	limit = max(calmTimes*subpixel.Percentile(rough, 20), calmShare*contrast, 0.3)
	for k := 1; k < n; k++ {
		if rough[k] <= limit && rough[k-1] > limit {
			starts = append(starts, from+float64(k)/2)
		}
	}
	return starts, limit
}

// sideReach: the ground is smooth for a while, the metal within is not.
func (b *bench) sideReach() subpixel.Reach {
	return subpixel.Reach{Before: math.Max(metalReachMM*b.ppm, 4), After: borderReachMM * b.ppm}
}

// choose picks the pair of sides that fits best together. Of widths and symmetry it knows only what any sleeve obeys
// once the side wall that shows at the angle of view is taken off: some 0.7 of the wire's width, wings within a
// factor. That decides between borders; it does not move one.
func (b *bench) choose(l, r []candidate) (atLeft, atRight float64, ok bool) {
	const share, shareSD, unevenSD = 0.7, 0.08, 0.2
	d := b.part.WireMM
	_, across := b.slopes()
	eL, eR, _, _, _, _ := newModel(b.declared, d, share*d).exposed(across, b.uSlope())
	best := math.Inf(-1)
	for _, cl := range l {
		for _, cr := range r {
			wl, wr := math.Max(0.1, cl.at-eL), math.Max(0.1, cr.at-eR)
			m := cl.merit + cr.merit - 0.5*sq(((wl+wr)/d-share)/shareSD) - 0.5*sq(math.Log(wl/wr)/unevenSD)
			if m > best {
				best, atLeft, atRight, ok = m, cl.at, cr.at, true
			}
		}
	}
	return atLeft, atRight, ok
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

// unrest is the mean square residual about a straight line over from..to (samples), the worst channel's.
func unrest(p [][]float64, from, to float64) float64 {
	worst := 0.0
	for _, c := range p {
		var n, st, stt, sv, stv, svv float64
		for i := max(0, int(from)); i <= min(len(c)-1, int(to)); i++ {
			t, v := float64(i), c[i]
			n, st, stt, sv, stv, svv = n+1, st+t, stt+t*t, sv+v, stv+t*v, svv+v*v
		}
		if n < 3 {
			continue
		}
		d := stt - st*st/n
		r := svv - sv*sv/n - (stv-st*sv/n)*(stv-st*sv/n)/d
		worst = math.Max(worst, r/n)
	}
	return worst
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
