package photo

import (
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// crossEdge is an edge that runs across the part: the insulation's cut end, the sleeve's rear or front edge.
type crossEdge struct {
	points []subpixel.Point // x, y in mm, one a scan line
	x      float64          // robust mean of x
	u      float64          // standard uncertainty of the mean from the scatter
}

const (
	// endDefinitionMM: standard uncertainty of where a rounded, glossy edge ends, half a pixel of a phone's picture.
	endDefinitionMM = 0.02
	scanStepMM      = 0.1 // scan lines across the part, each averaged over its own width
	crossReachMM    = 0.2
)

// expectation is where an edge is expected, mm, with a standard deviation that only weighs borders against each other.
type expectation struct{ x, sd float64 }

// band is a range of y, mm.
type band struct{ lo, hi float64 }

// markCross notes the scan lines' points for drawing.
func (b *bench) markCross(key record.Key, e crossEdge) {
	for _, p := range e.points {
		b.mark(record.MarkScan, key, 0, [2]float64{p.X - 0.08, p.Y}, [2]float64{p.X + 0.08, p.Y})
	}
}

// settle computes the robust mean and the scatter.
func (e *crossEdge) settle() {
	x := make([]float64, len(e.points))
	for i, p := range e.points {
		x[i] = p.X
	}
	_, off, spread := aboutMedian(x)
	// Differences of neighbours show the scatter without the edge's own curve.
	var diff []float64
	for i := 1; i < len(x); i++ {
		diff = append(diff, math.Abs(x[i]-x[i-1]))
	}
	slices.Sort(diff)
	sd := 1.4826 * diff[len(diff)/2] / math.Sqrt2
	kept, sum := 0.0, 0.0
	limit := math.Max(0.08, 3*spread)
	for i, v := range x {
		if math.Abs(off[i]) <= limit {
			kept, sum = kept+1, sum+v
		}
	}
	e.x = sum / kept
	e.u = math.Max(sd, 0.02) / math.Sqrt(kept)
}
