package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// painted is a bench with a strip whose brightness is given by place, the mean over a pixel's own square.
func painted(ppm float64, value func(x, y float64) float64) *bench {
	const x0, x1, y0, y1, fine = -3.0, 4.0, -2.0, 2.0, 4
	w, h := int((x1-x0)*ppm), int((y1-y0)*ppm)
	s := &part.Strip{PPM: ppm, X0: x0, Y0: y1}
	for c := range s.Chan {
		s.Chan[c] = part.NewPlane(w, h)
	}
	for j := range h {
		for i := range w {
			sum := 0.0
			for k := range fine * fine {
				dx, dy := (float64(k%fine)+0.5)/fine-0.5, (float64(k/fine)+0.5)/fine-0.5
				sum += value(x0+(float64(i)+dx)/ppm, y1-(float64(j)+dy)/ppm)
			}
			for c := range s.Chan {
				s.Chan[c].Pix[j*w+i] = float32(sum / (fine * fine))
			}
		}
	}
	return &bench{strip: s, ppm: ppm, blurPX: 0.6}
}

// strands are stripes along x, 0.3 mm wide, from black to bright.
func strands(y float64) float64 { return 90 + 70*math.Sin(2*math.Pi*y/0.3) }

// A straight edge is found where it was drawn, though bright strands run up to it, a glint runs along it on the metal, and
// the region's end is off by up to 0.2 mm. The truth is the drawing's own.
func TestStraightEdgeOfADrawnOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Float64Range(-0.5, 0.5).Draw(t, "edge")
		off := rapid.Float64Range(-0.2, 0.2).Draw(t, "region off by")
		glint := rapid.Float64Range(0.25, 0.5).Draw(t, "glint behind")
		b := painted(rapid.Float64Range(14, 32).Draw(t, "px/mm"), func(x, y float64) float64 {
			switch {
			case x < at:
				return 0.5 * strands(y)
			case math.Abs(x-at-glint) < 0.06:
				return 250
			}
			return 200
		})
		e := straightEdge{at: at + off, sd: edgeSDMM, from: -3, to: 3.5, before: crossReachMM, after: crossReachMM, whole: true}
		got, ok := e.find(b, band{-1, 1})
		require.True(t, ok)
		assert.InDelta(t, at, got.x, 0.05)
	})
}

// Nothing is found where nothing changes, nor in a band too narrow for scan lines.
func TestStraightEdgeOfNothing(t *testing.T) {
	b := painted(20, func(_, _ float64) float64 { return 100 })
	e := straightEdge{sd: edgeSDMM, from: -3, to: 3.5, before: crossReachMM, after: crossReachMM}
	_, ok := e.find(b, band{-1, 1})
	assert.False(t, ok)
	_, ok = e.find(b, band{0, 0.2})
	assert.False(t, ok)
}

// The insulation ends where the strands' stripes begin, whatever lies in the shade of its rim.
func TestStripesBeginAtTheCut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cut := rapid.Float64Range(-0.3, 0.3).Draw(t, "cut")
		gap := rapid.Float64Range(0.3, 1.2).Draw(t, "gap")
		shade := rapid.Float64Range(0, 0.1).Draw(t, "shade on the insulation")
		dark := rapid.Float64Range(20, 160).Draw(t, "insulation")
		b := painted(rapid.Float64Range(15, 32).Draw(t, "px/mm"), func(x, y float64) float64 {
			switch {
			case x < cut-shade:
				return dark
			case x < cut:
				return 0.6 * dark
			case x < cut+gap:
				return strands(y)
			}
			return 210
		})
		got, ok := b.stripesBegin(cut+rapid.Float64Range(-0.15, 0.15).Draw(t, "region off by"), cut+gap, band{-0.9, 0.9})
		require.True(t, ok)
		assert.InDelta(t, cut, got.x, 0.06)
	})
	smooth := painted(20, func(_, _ float64) float64 { return 60 })
	_, ok := smooth.stripesBegin(0, 0.6, band{-0.9, 0.9})
	assert.False(t, ok, "no stripes, no end")
}

// Planted flares come back within their u in nine cases of ten and more, with noise, with offsets of both sides and with a tenth
// of all borders far off.
func TestFitBellOfAPlantedOne(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1)) //nolint:gosec // noise, no secret
	const tries = 300
	flares, lengths := 0, 0
	for range tries {
		flare, length := 0.06+0.19*r.Float64(), 0.35+0.75*r.Float64()
		var devs [2][]subpixel.Point
		for side := range devs {
			offset := 0.03 * r.NormFloat64()
			for x := bellFromMM; x > bellClosestMM; x -= bellStepMM {
				y := offset + flare*shape(x/length, bellPower) + 0.008*r.NormFloat64()
				if r.IntN(10) == 0 {
					y += 0.15
				}
				devs[side] = append(devs[side], subpixel.Point{X: x, Y: y})
			}
		}
		f := fitBell(devs)
		if math.Abs(f.flare-flare) <= 2*math.Hypot(f.uFlare, uFlareMM) {
			flares++
		}
		if math.Abs(f.length-length) <= 2*math.Hypot(f.uLength, uLengthMM) {
			lengths++
		}
	}
	assert.GreaterOrEqual(t, flares, tries*9/10)
	assert.GreaterOrEqual(t, lengths, tries*9/10)
}

// A region that is nowhere gives no span; the picture's part is then refused rather than guessed at.
func TestNoRegionsNoProfile(t *testing.T) {
	b := painted(20, func(_, _ float64) float64 { return 100 })
	_, why := b.findProfile()
	assert.Contains(t, why, "plain ground")
}
