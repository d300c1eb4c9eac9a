package section

import (
	"math"

	"crimprule/vision/section/raster"
)

const (
	strandApart  = 3.5   // standard deviations of the sleeve's tone: a cell further off may be a strand
	darkShare    = 0.45  // of the sleeve's brightness: darker is void, seam or crack
	mostBelief   = 4.    // a cell's tone counts for no more than this log likelihood
	leastPiece   = 0.004 // of the part's area: a smaller piece is no cavity
	cutScale     = 100
	smoothWeight = 3.2 // log likelihood: the price of a border of one cell's length where nothing is seen
	lineBlurs    = 4.  // times the usual valley: a line that deep halves (and more) what a cell's tone is worth
)

// How sure the cavity is: by a cell's spread of tone (classes.sd) as a share of the distance between the two tones, and
// by the share of the cavity's border along which something shows.
const (
	grainySD       = 0.2  // spread: more comes from etched grains, which are larger than cells, and cells then say the same thing again
	doubtfulSD     = 0.28 // spread: more, and the tones run into each other; lines are asked too
	sameTone       = 0.5  // spread: sleeve and strands have one tone, and lines alone must tell
	mostGrain      = 2.   // how many times as unsure the border is at most where the tones run into each other
	sureBorder     = 0.9  // border: enough not to look further
	leastSeen      = 0.78 // border: less is refused
	leastSeenAlone = 0.9  // border: less is refused where sleeve and strands have one tone
	mostMissed     = 0.2  // of what dark lines enclose: a cut by tone that leaves out more has not found the strands' tone
)

// classes are the tones of sleeve and strands on the line that parts them best (Fisher 1936): sleeve 1, strands 0.
type classes struct {
	weight []float64
	offset float64
	sd     float64 // standard deviation of a cell, both classes pooled
	dark   float64 // brightness below which a cell is neither sleeve nor strand but a line or a void
}

func (k classes) at(g grid, i int) float64 {
	s := k.offset
	for c, p := range g.tone {
		s += k.weight[c] * float64(p.Pix[i])
	}
	return s
}

// belief is the log likelihood of sleeve over strand for two classes of the same spread: a tone beyond either class' middle
// (a stain, a shadow) still speaks for the nearer one, and neither class grows by what the other does not explain.
func (k classes) belief(t float64) float64 {
	l := math.Max(-mostBelief, math.Min(mostBelief, (t-0.5)/(k.sd*k.sd)))
	if k.sd > grainySD {
		l *= square(grainySD / k.sd)
	}
	return l
}

// split tells cavity from sleeve, from two starts: the cells whose tone is not the sleeve's, and those that dark lines
// enclose. The cut with more to be seen along its border wins; its share of such border says how sure it is.
func split(g grid) (mask raster.Mask, k classes, seen float64) {
	rim, inner := g.sorted()
	if len(rim) < 30 || len(inner) < 100 {
		return mask, k, 0
	}
	var calm []float64
	for _, i := range rim {
		calm = append(calm, float64(g.valley.Pix[i]))
	}
	still := math.Max(middle(calm), 0.015)
	try := func(strand []int, hint raster.Mask) (raster.Mask, classes, float64) {
		c, ok := learn(g, rim, inner, strand, hint)
		if !ok {
			return raster.Mask{}, c, 0
		}
		m := parted(g, c, still, hint)
		return m, c, g.evidence(m, c, still)
	}
	mask, k, seen = try(g.unlike(rim, inner), raster.Mask{})
	if seen < sureBorder || k.sd > doubtfulSD {
		if closed, ok := g.enclosed(); ok {
			var strand []int
			for _, i := range inner {
				if closed.Pix[i] {
					strand = append(strand, i)
				}
			}
			m, c, s := try(strand, closed)
			if s > seen || s > leastSeen && missed(closed, mask) > mostMissed {
				mask, k, seen = m, c, s
			}
		}
	}
	if seen > 0 {
		mask = g.tidy(g.completed(mask))
	}
	return mask, k, seen
}

// missed is the share of the first mask that is not in the second.
func missed(of, in raster.Mask) float64 {
	n, out := 0, 0
	for i, yes := range of.Pix {
		if yes {
			n++
			if len(in.Pix) == 0 || !in.Pix[i] {
				out++
			}
		}
	}
	return float64(out) / math.Max(float64(n), 1)
}

// sorted lists the cells that are certainly sleeve, and those within that are not as dark as a void.
func (g grid) sorted() (rim, inner []int) {
	for i := range g.part.Pix {
		switch {
		case g.rim(i):
			rim = append(rim, i)
		case g.part.Pix[i] && !g.shallow(i) && g.lum.Pix[i] > darkShare:
			inner = append(inner, i)
		}
	}
	return thinned(rim), thinned(inner)
}

// thinned keeps at most some thousand cells, evenly spread: enough to learn a tone from.
func thinned(cells []int) []int {
	const enough = 8000
	step := len(cells)/enough + 1
	out := cells[:0]
	for k := 0; k < len(cells); k += step {
		out = append(out, cells[k])
	}
	return out
}

// unlike picks the inner cells whose tone differs most from the rim's.
func (g grid) unlike(rim, inner []int) []int {
	mean, cov := moments(g, rim)
	strand := farther(g, inner, mean, cov, strandApart)
	if len(strand) < len(inner)/20 {
		strand = farther(g, inner, mean, cov, strandApart/2)
	}
	return strand
}

// learn finds the two tones from a first guess at the strands' cells: both anew, in turns, from the cells that each
// explains best. Where a hint says which cells are strands, that stands: two tones that are one would be split in the
// middle otherwise.
func learn(g grid, rim, inner, strand []int, hint raster.Mask) (classes, bool) {
	var k classes
	if len(strand) < len(inner)/50 || len(strand) < 30 {
		return k, false
	}
	sleeve, rounds := rim, 4
	if len(hint.Pix) > 0 {
		rounds = 1
	}
	for range rounds {
		ms, cs := moments(g, sleeve)
		mt, ct := moments(g, strand)
		k = part(g, ms, mt, cs, ct)
		k.sd = math.Sqrt((k.spread(g, sleeve, 1) + k.spread(g, strand, 0)) / 2)
		k.dark = darkBelow(g, strand)
		sleeve, strand = append([]int(nil), rim...), nil
		for _, i := range inner {
			if float64(g.lum.Pix[i]) < k.dark {
				continue
			}
			if k.belief(k.at(g, i)) > 0 {
				sleeve = append(sleeve, i)
			} else {
				strand = append(strand, i)
			}
		}
		if len(strand) < 30 {
			return k, false
		}
	}
	return k, true
}

// darkBelow is a brightness well below both the sleeve's, 1, and the strands'.
func darkBelow(g grid, strand []int) float64 {
	lum := make([]float64, len(strand))
	for j, i := range strand {
		lum[j] = float64(g.lum.Pix[i])
	}
	m := middle(lum)
	for j, l := range lum {
		lum[j] = math.Abs(l - m)
	}
	return math.Max(darkShare, math.Min(1, m)-math.Max(0.12, 4*1.4826*middle(lum)))
}

// moments gives the mean and covariance of the cells' tones.
func moments(g grid, cells []int) (mean []float64, cov [][]float64) {
	n := len(g.tone)
	mean = make([]float64, n)
	for c, p := range g.tone {
		v := make([]float64, 0, len(cells))
		for _, i := range cells {
			v = append(v, float64(p.Pix[i]))
		}
		mean[c] = middle(v)
	}
	cov = make([][]float64, n)
	for a := range cov {
		cov[a] = make([]float64, n)
		for b := range n {
			s := 0.
			for _, i := range cells {
				da := clamp(float64(g.tone[a].Pix[i])-mean[a], 0.3)
				db := clamp(float64(g.tone[b].Pix[i])-mean[b], 0.3)
				s += da * db
			}
			cov[a][b] = s / float64(len(cells))
		}
		cov[a][a] += 1e-5
	}
	return mean, cov
}

func clamp(v, most float64) float64 { return math.Max(-most, math.Min(most, v)) }

// farther picks the cells whose tone lies more than limit standard deviations from the mean (Mahalanobis).
func farther(g grid, cells []int, mean []float64, cov [][]float64, limit float64) []int {
	inv := inverse(cov)
	var out []int
	for _, i := range cells {
		s := 0.
		for a := range mean {
			for b := range mean {
				s += (float64(g.tone[a].Pix[i]) - mean[a]) * inv[a][b] * (float64(g.tone[b].Pix[i]) - mean[b])
			}
		}
		if s > limit*limit*float64(len(mean)) {
			out = append(out, i)
		}
	}
	return out
}

// part gives the line between two classes: inverse of the summed covariances times the difference of the means.
func part(g grid, ms, mt []float64, cs, ct [][]float64) classes {
	n := len(ms)
	sum := make([][]float64, n)
	for a := range sum {
		sum[a] = make([]float64, n)
		for b := range n {
			sum[a][b] = cs[a][b] + ct[a][b]
		}
	}
	inv := inverse(sum)
	k := classes{weight: make([]float64, n)}
	scale := 0.
	for a := range n {
		for b := range n {
			k.weight[a] += inv[a][b] * (ms[b] - mt[b])
		}
		scale += k.weight[a] * (ms[a] - mt[a])
	}
	if scale <= 0 {
		scale = 1
	}
	for a := range n {
		k.weight[a] /= scale
		k.offset -= k.weight[a] * mt[a]
	}
	return k
}

// spread is the robust variance of the cells about their class' place on the line, from those on the other class' side
// only: on the far side lie shadows and voids.
func (k classes) spread(g grid, cells []int, about float64) float64 {
	d := make([]float64, 0, len(cells))
	for _, i := range cells {
		if e := k.at(g, i) - about; e*(0.5-about) > 0 {
			d = append(d, math.Abs(e))
		}
	}
	if len(d) < 10 {
		return 0.1 * 0.1
	}
	sd := math.Max(1.4826*middle(d), 0.05)
	return sd * sd
}

// inverse of a symmetric positive matrix of 1 x 1 or 3 x 3.
func inverse(m [][]float64) [][]float64 {
	if len(m) == 1 {
		return [][]float64{{1 / m[0][0]}}
	}
	c := func(a, b, d, e int) float64 { return m[a][d]*m[b][e] - m[a][e]*m[b][d] }
	det := m[0][0]*c(1, 2, 1, 2) - m[0][1]*c(1, 2, 0, 2) + m[0][2]*c(1, 2, 0, 1)
	return [][]float64{
		{c(1, 2, 1, 2) / det, -c(0, 2, 1, 2) / det, c(0, 1, 1, 2) / det},
		{-c(1, 2, 0, 2) / det, c(0, 2, 0, 2) / det, -c(0, 1, 0, 2) / det},
		{c(1, 2, 0, 1) / det, -c(0, 2, 0, 1) / det, c(0, 1, 0, 1) / det},
	}
}

// parted tells for each cell of the part whether it belongs to the cavity: the cut of least cost between sleeve and
// strands (Boykov and Jolly 2001), where a cell pays for a label against its tone or against the hint, and a border is
// cheap along a dark line and where the tone changes. Calm is the usual valley of metal without lines.
func parted(g grid, k classes, calm float64, hint raster.Mask) raster.Mask {
	f := newFlow(g.w, g.h)
	for i, in := range g.part.Pix {
		if !in {
			continue
		}
		switch {
		case g.shallow(i):
			f.term[i] = 100 * cutScale
		case float64(g.lum.Pix[i]) < k.dark:
			f.term[i] = -cutScale / 2
		case len(hint.Pix) > 0 && hint.Pix[i]:
			f.term[i] = -mostBelief * cutScale
		default:
			// A dark line within the cell mixes into its tone, which then says little.
			line := float64(g.valley.Pix[i]) / (lineBlurs * calm)
			f.term[i] = int32(math.Round(cutScale * k.belief(k.at(g, i)) / (1 + line*line)))
		}
		for _, d := range []int{1, 3} {
			if d == 1 && i%g.w == g.w-1 || d == 3 && i/g.w == g.h-1 {
				continue
			}
			j := f.neighbour(i, d)
			if !g.part.Pix[j] {
				continue
			}
			dark := math.Max(float64(g.valley.Pix[i]), float64(g.valley.Pix[j])) / (2 * calm)
			step := (k.at(g, i) - k.at(g, j)) / (4 * k.sd)
			price := smoothWeight * math.Exp(-0.5*math.Max(dark-1, 0)) * math.Exp(-step*step/2)
			f.link(i, d, int32(cutScale*math.Max(price, 0.15)))
		}
	}
	sleeve := f.cut()
	out := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		out.Pix[i] = in && !sleeve[i]
	}
	return g.tidy(out)
}

// tidy takes out pieces too small to hold a strand and fills islands of sleeve within the cavity.
func (g grid) tidy(m raster.Mask) raster.Mask {
	m = raster.Reopen(m, 1.5, 3)
	area := 0
	for _, in := range g.part.Pix {
		if in {
			area++
		}
	}
	label, sizes := raster.Pieces(m)
	for i, l := range label {
		if l > 0 && float64(sizes[l]) < leastPiece*float64(area) {
			m.Pix[i] = false
		}
	}
	// What is neither cavity nor hangs together with the sleeve's rim is an island.
	rest := raster.NewMask(g.w, g.h)
	for i := range rest.Pix {
		rest.Pix[i] = !m.Pix[i]
	}
	label, sizes = raster.Pieces(rest)
	for i, l := range label {
		if l > 0 && float64(sizes[l]) < 0.05*float64(area) && g.part.Pix[i] {
			m.Pix[i] = true
		}
	}
	return m
}
