package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	brushBandMM  = 0.3 // about a strand's width: the tips are told band by band
	brushStepMM  = 0.04
	brushMostMM  = 3.2
	brushRestMM  = 0.16 // this long without stripes ends the brush
	brushLeastMM = 0.12 // strands shorter than this are not told from the front edge itself
)

// brush measures the strands that show in front of the sleeve. Strands side by side make stripes across, the floor and
// the walls of the neck make few: in each band the brush ends where the stripes do.
//
// Each band shows the foremost of the strands that lie over each other there; single strands end earlier, by about
// what the bands differ among themselves. The mean and the least are corrected by that and carry it in u.
func (b *bench) brush(s sleeve) {
	half := 0.7 * math.Min(b.body.bundle, (s.left.at(s.frontX)-s.right.at(s.frontX))/2)
	centre := (s.left.at(s.frontX) + s.right.at(s.frontX)) / 2
	var tips []float64
	front := b.atHeight(s.frontX, centre, b.body.top)
	for y := centre - half; y+brushBandMM <= centre+half+1e-9; y += brushBandMM / 2 {
		x := b.stripesEnd(s.frontX, y, y+brushBandMM)
		tip := b.atHeight(x, y, 0.6*b.body.bundle)
		if x-s.frontX < brushLeastMM {
			tip = front
		}
		tips = append(tips, math.Max(0, tip-front))
		b.mark(record.MarkScan, record.BrushMean, 0, [2]float64{s.frontX, y + brushBandMM/2}, [2]float64{x, y + brushBandMM/2})
	}
	if len(tips) < 3 {
		for _, k := range []record.Key{record.BrushMean, record.BrushMax, record.BrushMin} {
			b.rec.Miss(k, "the sleeve's front is too narrow in the picture to tell strand ends")
		}
		return
	}
	tips = withoutStrangers(tips)
	mean, longest, least := subpixel.Percentile(tips, 50), subpixel.Percentile(tips, 88), subpixel.Percentile(tips, 12)
	spread := subpixel.Percentile(tips, 85) - subpixel.Percentile(tips, 15)
	slope, _ := b.slopes()
	angle := uncertainty.Component{Name: "angle", Source: "heights of strand ends and front edge, times the slope of view", Standard: math.Abs(slope) * 0.5}
	edge := uncertainty.Component{Name: "edge", Source: "where stripes end", Standard: 0.06}
	hidden := uncertainty.Component{Name: "definition", Source: "strands that end under others", Standard: 0.5 * spread}
	b.set(record.BrushMean, math.Max(0, mean-0.5*spread), uncertainty.Budget{edge, angle, hidden})
	b.set(record.BrushMax, longest, uncertainty.Budget{edge, angle, {Name: "definition", Source: "single longest strand", Standard: 0.4*spread + 0.06}})
	b.set(record.BrushMin, math.Max(0, least-0.5*spread-0.1), uncertainty.Budget{edge, angle, {Name: "definition", Source: "strands that end under others", Standard: 0.6*spread + 0.05}})
}

// withoutStrangers leaves out bands that end far from most others: there the neck's walls, not strands, make the stripes.
func withoutStrangers(tips []float64) []float64 {
	_, off, sd := aboutMedian(tips)
	limit := math.Max(0.3, 2*sd)
	var kept []float64
	for i, t := range tips {
		if math.Abs(off[i]) <= limit {
			kept = append(kept, t)
		}
	}
	return kept
}

// stripesEnd follows a band from the front edge on until the stripes across it are gone for brushRestMM.
func (b *bench) stripesEnd(front, y0, y1 float64) float64 {
	const pad = 0.1
	var energy []float64
	for x := front + 0.04; x < front+brushMostMM; x += brushStepMM {
		energy = append(energy, b.stripes(x, x+brushStepMM, y0-pad, y1+pad))
	}
	usual := subpixel.Percentile(energy[:int(0.32/brushStepMM)], 60)
	level := math.Max(0.45*usual, leastStripes)
	end, rest := -1, 0
	for k, e := range energy {
		if e > level {
			end, rest = k, 0
		} else if rest++; float64(rest)*brushStepMM >= brushRestMM {
			break
		}
	}
	return front + 0.04 + float64(end+1)*brushStepMM
}

// leastStripes is the rms slope across, brightness levels per mm, below which there are no strands: a tenth of full scale
// from one flank of a strand to the other.
const leastStripes = 45

// stripes is the rms slope across of the mean brightness over x0..x1, in levels per mm.
func (b *bench) stripes(x0, x1, y0, y1 float64) float64 {
	return math.Sqrt(detail(b.greyAcross(x0, x1, y0, y1))) * b.ppm
}
