package photo

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

// Sample i of a profile outwards lies i/ppm outwards, on both sides alike, whatever its length.
func TestOutwardBeginsWhereItSays(t *testing.T) {
	p := papers["dark ground"]
	rec := record.New(record.Seam)
	b := newBench(p.drawn(t), &rec)
	for y := range b.strip.Chan[0].H { // brightness grows with the distance from the axis
		for x := range b.strip.Chan[0].W {
			for c := range b.strip.Chan {
				b.strip.Chan[c].Pix[y*b.strip.Chan[c].W+x] = float32(40 * math.Abs(b.strip.Y(float64(y))))
			}
		}
	}
	for _, far := range []float64{2.0, 2.01, 2.02, 2.03, 2.5} {
		for _, s := range []side{left, right} {
			v := b.outward(s, 2, 4, 0.5, far)[0]
			for i := range v {
				assert.InDelta(t, 40*(0.5+float64(i)/b.ppm), v[i], 0.02, "side %v, far %v, sample %d", s, far, i)
			}
		}
	}
}
