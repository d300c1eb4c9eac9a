package part

import (
	"math"
	"slices"

	"crimprule/vision/record"
)

// extent is what a column of the regions' grid shows of some classes: how much of it (mm), and its outermost rows as y.
type extent struct{ width, low, high float64 }

// columns gives the extent of some classes in each column of the grid.
func (r *Regions) columns(classes ...Class) []extent {
	w, h := r.Prob[0].W, r.Prob[0].H
	out := make([]extent, w)
	for i := range w {
		e := extent{low: math.Inf(1), high: math.Inf(-1)}
		for j := range h {
			if slices.Contains(classes, r.classAt(j*w+i)) {
				y := r.Y0 - float64(j)/r.PPM
				e.width += 1 / r.PPM
				e.low, e.high = math.Min(e.low, y-0.5/r.PPM), math.Max(e.high, y+0.5/r.PPM)
			}
		}
		out[i] = e
	}
	return out
}

// classAt is the likeliest class of the grid's pixel i, the first of equal ones.
func (r *Regions) classAt(i int) Class {
	if r.likeliest == nil {
		r.likeliest = likeliest(&r.Prob)
	}
	return r.likeliest[i]
}

// likeliest goes class by class over all pixels, which the processor's cache likes better than the other way.
func likeliest(shares *[Classes]Plane) []Class {
	most := slices.Clone(shares[0].Pix)
	out := make([]Class, len(most))
	for c := 1; c < len(shares); c++ {
		for i, v := range shares[c].Pix[:len(most)] {
			if v > most[i] {
				most[i], out[i] = v, Class(c)
			}
		}
	}
	return out
}

func (r *Regions) x(col int) float64 { return r.X0 + float64(col)/r.PPM }

// stretch is the longest run of columns in which a class is at least half as wide as it usually is; gaps of up to gapMM
// are passed over.
func (r *Regions) stretch(e []extent, gapMM float64) (from, to int, usual float64, ok bool) {
	var widths []float64
	for _, c := range e {
		if c.width > 0.3 {
			widths = append(widths, c.width)
		}
	}
	if len(widths) < 6 {
		return 0, 0, 0, false
	}
	slices.Sort(widths)
	usual = widths[len(widths)*3/5]
	gap := int(gapMM * r.PPM)
	start, last := -1, -1
	for i := range len(e) + 1 {
		switch in := i < len(e) && e[i].width >= usual/2; {
		case in && (start < 0 || i-last > gap+1):
			if last-start > to-from {
				from, to = start, last
			}
			start, last = i, i
		case in:
			last = i
		}
	}
	if last-start > to-from {
		from, to = start, last
	}
	return from, to, usual, to > from
}

const (
	shortestSleeveMM = 2.5
	longestSleeveMM  = 13
	mostPiecesMM     = 0.5  // of sleeve beyond what covers it
	leastCertainty   = 0.75 // clear pictures have 0.95 and more
)

const (
	inPieces   = "the sleeve is seen in pieces: take away what covers it, a hand, a tool or a wire, and keep hard shadows off it"
	unclear    = "the part cannot be told clearly from what lies round it: lay it on a plain ground, in even light, with nothing over it"
	notCrimped = "the contact is not crimped: bare strands lie in front of its body with no sleeve over them. Crimp it, then take the picture anew"
	closedTube = "no seam and no open neck can be seen: a ferrule, a lug or another closed tube is not measured; if it is an open barrel, lay it seam up or on its side"
	notWhole   = "the sleeve cannot be seen from end to end: lay the part free beside the scale reference, in even light"
)

// part tells from the regions where the part lies: its axis, where the insulation ends and where the sleeve begins and
// ends. why says what the person can do where that cannot be told.
func (r *Regions) part(stripped bool) (p Part, why string) {
	insulation := r.columns(Insulation)
	metal := r.columns(Sleeve, Through)
	if stripped {
		metal = r.columns(Conductor)
	}
	from, to, usual, ok := r.stretch(metal, 0.6)
	rear, front := r.x(from)-0.5/r.PPM, r.x(to)+0.5/r.PPM
	if !ok || !stripped && (front-rear < shortestSleeveMM || front-rear > longestSleeveMM) {
		return Part{}, r.whyNoSleeve()
	}
	if !stripped && r.meanWidth(r.columns(Conductor), from, to) > usual/2 {
		return Part{}, notCrimped
	}
	if !stripped && r.elsewhere(metal, from, to, usual) > mostPiecesMM {
		return Part{}, inPieces
	}
	// The insulation that counts lies on the wire's side of the sleeve.
	before := insulation[:min(len(insulation), max(from+int(r.PPM), 0))]
	if stripped {
		before = insulation
	}
	_, cut, wire, ok := r.stretch(before, 0.6)
	cutX := r.x(cut) + 0.5/r.PPM
	if !ok {
		return Part{}, notWhole
	}
	mids := r.midline(metal, from, to)
	if stripped {
		mids = r.midline(insulation, max(0, cut-int(6*r.PPM)), cut)
	}
	y0, slope := straight(mids)
	turn := math.Atan(slope)
	f := r.Frame.Moved(cutX, y0+slope*cutX, turn)
	along := math.Cos(turn)
	p = Part{Frame: f, Regions: r, WireMM: wire * along, RearX: (rear - cutX) / along, FrontX: (front - cutX) / along}
	p.View, p.ViewShare = r.view(from, to)
	p.Certainty = r.certainty(min(cut, from), to)
	if stripped {
		p.RearX, p.View, p.ViewShare = 0, record.Strip, 1
	}
	if p.View == record.Side && r.neckLean(p) < leastLean {
		return p, closedTube
	}
	if p.Certainty < leastCertainty {
		return p, unclear
	}
	return p, ""
}

// showsSleeve tells whether a sleeve is seen: from afar, and where its body lies outside the picture, one may look like bare
// strands.
func (r *Regions) showsSleeve() bool {
	from, to, usual, ok := r.stretch(r.columns(Sleeve, Through), 0.6)
	const leastWidthMM = 1.2
	return ok && r.x(to)-r.x(from) > shortestSleeveMM && usual > leastWidthMM
}

// whyNoSleeve says why no sleeve stands where one should: bare strands of a sleeve's length, or a body that begins where
// the sleeve should.
func (r *Regions) whyNoSleeve() string {
	if from, to, _, ok := r.stretch(r.columns(Conductor), 0.6); ok && r.x(to)-r.x(from) > shortestSleeveMM {
		return notCrimped
	}
	_, cut, _, wire := r.stretch(r.columns(Insulation), 0.6)
	if from, _, _, ok := r.stretch(r.columns(Body), 0.6); ok && wire && r.x(from)-r.x(cut) < shortestSleeveMM {
		return closedTube
	}
	return notWhole
}

const (
	mostHollow     = 0.08 // of the sleeve's outline: a stray across it is none
	mostUnparallel = 0.16 // difference of the slopes of a sleeve's two sides, 9 degrees: a shadow beside one tilts it by up to 5
)

// covered tells whether something lies over the part's sleeve: ground shows within its outline, or its two sides do not
// run alike.
func (r *Regions) covered(p Part) bool {
	column := func(x float64) int {
		lx, _ := r.Frame.Local(p.Frame.World(x, 0, 0))
		return min(max(int((lx-r.X0)*r.PPM), 0), r.Prob[0].W-1)
	}
	const clear = 0.3 // mm: a sleeve's corners are round
	from, to := column(p.RearX+clear), column(p.FrontX-clear)
	own := r.columns(Sleeve, Through)
	all := r.columns(Sleeve, Through, Strays, Conductor, Brush, Body)
	var width, span float64
	var low, high [][2]float64
	for i := from; i <= to; i++ {
		if own[i].width == 0 {
			continue
		}
		width, span = width+min(all[i].width, own[i].high-own[i].low), span+own[i].high-own[i].low
		low, high = append(low, [2]float64{r.x(i), own[i].low}), append(high, [2]float64{r.x(i), own[i].high})
	}
	_, slopeLow := straight(low)
	_, slopeHigh := straight(high)
	return width < (1-mostHollow)*span || math.Abs(slopeLow-slopeHigh) > mostUnparallel
}

// meanWidth is how wide a class is on average over the columns from..to.
func (r *Regions) meanWidth(e []extent, from, to int) float64 {
	sum := 0.0
	for _, c := range e[from : to+1] {
		sum += c.width
	}
	return sum / float64(to+1-from)
}

// leastLean is from which share on the neck counts as open to one side. Seam up it shows up to 0.15, on its side 0.35 and more.
const leastLean = 0.2

// neckLean is how much more of the neck, over the first millimetres past the sleeve's front, lies on one side of the axis
// than on the other, 0..1: a part on its side has the floor there and nothing opposite.
func (r *Regions) neckLean(p Part) float64 {
	const step = 0.1
	var left, right float64
	for x := p.FrontX + 0.2; x < p.FrontX+1.6; x += step {
		for y := step / 2; y < p.WireMM/2; y += step {
			left += r.At(Body, p.Frame, x, y)
			right += r.At(Body, p.Frame, x, -y)
		}
	}
	return math.Abs(left-right) / math.Max(left+right, 1e-9)
}

// elsewhere is how much of a class stands at its usual width outside the columns from..to, mm.
func (r *Regions) elsewhere(e []extent, from, to int, usual float64) float64 {
	n := 0
	for i, c := range e {
		if (i < from || i > to) && c.width >= usual/2 {
			n++
		}
	}
	return float64(n) / r.PPM
}

// view tells from the sleeve's columns whether the part lies seam up or on its side, and how much speaks for that.
func (r *Regions) view(from, to int) (record.View, float64) {
	w := r.onSide.W
	var side, all float64
	for i, v := range r.onSide.Pix {
		if col := i % w; col >= from && col <= to {
			side += float64(v)
			all += float64(r.Prob[Sleeve].Pix[i])
		}
	}
	if share := side / math.Max(all, 1e-9); share > 0.5 {
		return record.Side, share
	} else {
		return record.Seam, 1 - share
	}
}

// certainty is the mean share of the likeliest class over the columns from..to, where that is not ground.
func (r *Regions) certainty(from, to int) float64 {
	w := r.Prob[0].W
	sum, n := 0.0, 0.0
	for i := range r.Prob[0].Pix {
		if col := i % w; col < from || col > to {
			continue
		}
		if c := r.classAt(i); c != Ground {
			sum, n = sum+float64(r.Prob[c].Pix[i]), n+1
		}
	}
	return sum / math.Max(n, 1)
}

// midline is the middle between the outermost rows of a class, column by column, the ends left out.
func (r *Regions) midline(e []extent, from, to int) (points [][2]float64) {
	trim := (to - from) / 8
	for i := from + trim; i <= to-trim; i++ {
		if e[i].width > 0 {
			points = append(points, [2]float64{r.x(i), (e[i].low + e[i].high) / 2})
		}
	}
	return points
}

// straight is the line y = y0 + slope·x through points by the median of slopes (Theil 1950, Sen 1968), over pairs that lie
// half the points apart.
func straight(p [][2]float64) (y0, slope float64) {
	n := len(p) / 2
	if n == 0 {
		return 0, 0
	}
	var slopes, offs []float64
	for i := 0; i+n < len(p); i++ {
		slopes = append(slopes, (p[i+n][1]-p[i][1])/(p[i+n][0]-p[i][0]))
	}
	slices.Sort(slopes)
	slope = slopes[len(slopes)/2]
	for _, q := range p {
		offs = append(offs, q[1]-slope*q[0])
	}
	slices.Sort(offs)
	return offs[len(offs)/2], slope
}
