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

func (r *Regions) classAt(i int) Class {
	best := Ground
	for c := range r.Prob {
		if r.Prob[c].Pix[i] > r.Prob[best].Pix[i] {
			best = Class(c)
		}
	}
	return best
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
)

// part tells from the regions where the part lies: its axis, where the insulation ends and where the sleeve begins and
// ends. ok is false where that cannot be told.
func (r *Regions) part(stripped bool) (Part, bool) {
	insulation := r.columns(Insulation)
	metal := r.columns(Sleeve, Through)
	if stripped {
		metal = r.columns(Conductor)
	}
	from, to, _, ok := r.stretch(metal, 0.6)
	if !ok {
		return Part{}, false
	}
	rear, front := r.x(from)-0.5/r.PPM, r.x(to)+0.5/r.PPM
	if !stripped && (front-rear < shortestSleeveMM || front-rear > longestSleeveMM) {
		return Part{}, false
	}
	// The insulation that counts lies on the wire's side of the sleeve.
	before := insulation[:min(len(insulation), max(from+int(r.PPM), 0))]
	if stripped {
		before = insulation
	}
	_, cut, wire, ok := r.stretch(before, 0.6)
	cutX := r.x(cut) + 0.5/r.PPM
	if !ok {
		return Part{}, false
	}
	mids := r.midline(metal, from, to)
	if stripped {
		mids = r.midline(insulation, max(0, cut-int(6*r.PPM)), cut)
	}
	y0, slope := straight(mids)
	turn := math.Atan(slope)
	f := r.Frame.Moved(cutX, y0+slope*cutX, turn)
	along := math.Cos(turn)
	p := Part{Frame: f, Regions: r, WireMM: wire * along, RearX: (rear - cutX) / along, FrontX: (front - cutX) / along}
	p.View, p.ViewShare = r.view(from, to)
	p.Certainty = r.certainty(min(cut, from), to)
	if stripped {
		p.RearX, p.View, p.ViewShare = 0, record.Strip, 1
	}
	return p, true
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
