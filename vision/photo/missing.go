package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

// A missing piece shows as a stretch along the seam in which the picture differs from what the same row shows along
// the rest of the sleeve. The comparison is made on a grid of small cells: each cell's rms residual against its row's
// median, in units of what is usual in that row.
const (
	cellMM         = 0.1
	grooveMM       = 0.12 // half width of the groove, in which nothing can be told
	cellOdd        = 3.5  // times the row's usual residual
	missingDepthMM = 0.15 // the contract's threshold
	wingCells      = 12   // of cellMM, from the groove outwards
	missingRunMM   = 0.3  // shorter runs cannot be told from glints
)

// oddness is the grid of one side: rows[j][i] tells how odd the cell at x = x0+(i+1/2)·cellMM and (j+1/2)·cellMM
// outwards from the groove's edge is.
func (b *bench) oddness(s sleeve, sd side, x0 float64, cols int) [][]float64 {
	rows := make([][]float64, wingCells)
	n := int(cellMM*b.ppm + 0.5)
	for j := range rows {
		residual := make([][]float64, n) // one line of the strip a slice
		for k := range residual {
			off := grooveMM + (float64(j)+(float64(k)+0.5)/float64(n))*cellMM
			residual[k] = b.rowResidual(s, sd, off, x0, cols*n, n)
		}
		rows[j] = make([]float64, cols)
		var all []float64
		for i := range cols {
			sum := 0.0
			for k := range residual {
				for _, v := range residual[k][i*n : (i+1)*n] {
					sum += v * v
				}
			}
			rows[j][i] = math.Sqrt(sum / float64(n*n))
			all = append(all, rows[j][i])
		}
		slices.Sort(all)
		usual := math.Max(all[len(all)/2], 0.02)
		for i := range rows[j] {
			rows[j][i] /= usual
		}
	}
	return rows
}

// rowResidual is ln brightness along the line that runs off mm outwards from the seam, less its median.
func (b *bench) rowResidual(s sleeve, sd side, off, x0 float64, count, perCell int) []float64 {
	v := make([]float64, count)
	for k := range v {
		x := x0 + (float64(k)+0.5)*cellMM/float64(perCell)
		c, r := b.strip.Col(x), b.strip.Row(s.seam.at(x)+float64(sd)*off)
		sum := float64(b.strip.Chan[0].At(c, r) + b.strip.Chan[1].At(c, r) + b.strip.Chan[2].At(c, r))
		v[k] = math.Log(sum/3 + part.LogFloor)
	}
	sorted := slices.Clone(v)
	slices.Sort(sorted)
	for k := range v {
		v[k] -= sorted[count/2]
	}
	return v
}

// run is a stretch along the sleeve in which a wing's tip edge stands back.
type run struct{ from, to, depth, texture float64 }

// echoes tells whether the run lies beside one of the other wing that is the piece itself: a hole's rim throws a smooth
// shade a little over the seam, while strands show through the hole itself.
func (r run) echoes(other []run) bool {
	for _, o := range other {
		if o.from < r.to && r.from < o.to && r.depth*r.texture < o.depth*o.texture {
			return true
		}
	}
	return false
}

// texture is the mean change of ln brightness along x, a pixel, within a run.
func (b *bench) texture(s sleeve, sd side, r run) float64 {
	n := int(cellMM*b.ppm + 0.5)
	count := int((r.to - r.from) / cellMM * float64(n))
	sum, k := 0.0, 0.0
	for off := grooveMM; off < r.depth; off += cellMM / 2 {
		v := b.rowResidual(s, sd, off, r.from, count, n)
		for i := 1; i < len(v); i++ {
			sum, k = sum+math.Abs(v[i]-v[i-1]), k+1
		}
	}
	return sum / math.Max(1, k)
}

// missingRuns lists the stretches on one side.
func (b *bench) missingRuns(s sleeve, sd side) []run {
	x0 := s.rearX + 0.2
	cols := int((s.frontX - 0.4 - x0) / cellMM)
	odd := b.oddness(s, sd, x0, cols)
	depth := make([]float64, cols)
	for i := range depth {
		if bandAcross(odd, i) {
			continue
		}
		gap := 0
		for j := range odd {
			if odd[j][i] > cellOdd {
				depth[i], gap = grooveMM+float64(j+1)*cellMM, 0
			} else if gap++; gap > 1 {
				break
			}
		}
	}
	var runs []run
	start, last := -1, -1
	flush := func() {
		if start >= 0 && float64(last-start+1)*cellMM >= missingRunMM {
			d := slices.Clone(depth[start : last+1])
			slices.Sort(d)
			r := run{from: x0 + float64(start)*cellMM, to: x0 + float64(last+1)*cellMM, depth: d[len(d)*3/4]}
			r.texture = b.texture(s, sd, r)
			runs = append(runs, r)
		}
		start = -1
	}
	for i, d := range depth {
		if d >= missingDepthMM+grooveMM {
			if start < 0 {
				start = i
			}
			last = i
		} else if start >= 0 && i-last > 1 {
			flush()
		}
	}
	flush()
	return runs
}

// bandAcross tells whether a column is odd even far out on the wing: a glint, a tool mark or the flare's shine across
// the whole wing is no missing piece.
func bandAcross(odd [][]float64, i int) bool {
	far := 0
	for j := wingCells - 4; j < wingCells; j++ {
		if odd[j][i] > cellOdd/2 {
			far++
		}
	}
	return far >= 3
}

// missing measures completeness of both wings, the largest piece missing, and the largest opening.
func (b *bench) missing(s sleeve, opening, uOpening float64) {
	length := s.frontX - s.rearX
	var longest, deepest run
	open := opening
	lost := map[side][]run{left: b.missingRuns(s, left), right: b.missingRuns(s, right)}
	for _, sd := range []struct {
		s     side
		key   record.Key
		other []run
	}{{left, record.CompletenessLeft, lost[right]}, {right, record.CompletenessRight, lost[left]}} {
		gone := 0.0
		for _, r := range lost[sd.s] {
			if r.echoes(sd.other) {
				continue
			}
			gone += r.to - r.from
			if r.to-r.from > longest.to-longest.from {
				longest = r
			}
			if r.depth > deepest.depth {
				deepest = r
			}
			open = math.Max(open, r.depth+grooveMM/2)
			y := s.seam.at((r.from + r.to) / 2)
			out := y + float64(sd.s)*r.depth
			b.mark(record.MarkMiss, record.MissingLengthMax, b.body.tips, [2]float64{r.from, y}, [2]float64{r.from, out},
				[2]float64{r.to, out}, [2]float64{r.to, y}, [2]float64{r.from, y})
		}
		u := 0.5 * missingRunMM / 2 / length
		if gone > 0 {
			u = cellMM / length
		}
		b.set(sd.key, 1-gone/length, uncertainty.Budget{{Name: "definition", Source: "where the tip edge stands back by 0.15 mm; shorter runs are not seen", Standard: u}})
	}
	uLength, uDepth := missingRunMM/4, missingDepthMM/3
	if longest.to > longest.from {
		uLength, uDepth, uOpening = cellMM, 0.6*cellMM, math.Hypot(uOpening, 0.8*cellMM)
	}
	b.set(record.MissingLengthMax, longest.to-longest.from, uncertainty.Budget{{Name: "definition", Source: "ends of the run on a grid of 0.1 mm", Standard: uLength}})
	b.set(record.MissingDepthMax, deepest.depth, uncertainty.Budget{{Name: "definition", Source: "bottom of the piece on a grid of 0.1 mm", Standard: uDepth}})
	b.set(record.SeamOpeningMax, open, uncertainty.Budget{{Name: "definition", Source: "dark groove between rounded edges", Standard: uOpening}})
}
