package photo

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/subpixel"
)

// bareWire is a stripped wire drawn flat by plain formulas, 25 px a millimetre: insulation up to a straight slanted cut,
// strands that fan out beyond it and end at length.
type bareWire struct {
	slant, length, half, fan float64 // of the cut; mm; half the strands' width at the cut and how much it grows per mm
	cutStrand                float64 // where the third strand from the top ends, mm; 0 for none
	ragged                   float64 // the strands on top end by thirds of this before the length, those under them at it, mm
}

const bareStrandMM = 0.3

func (p bareWire) brightness(x, y float64) float64 {
	half := p.half + p.fan*math.Max(0, x)
	switch {
	case x < p.slant*y && math.Abs(y) < wireHalf:
		return 60 + 40*math.Sqrt(1-y*y/wireHalf/wireHalf)
	case x > p.slant*y && x < p.length && math.Abs(y) < half:
		at := y / half * p.half / bareStrandMM // in strand widths from the middle
		strand := math.Floor(at)
		if p.cutStrand > 0 && x > p.cutStrand && strand == 2 {
			return 50
		}
		if early := p.ragged / 3 * math.Mod(strand+60, 4); x > p.length-early {
			return 90
		}
		d := at - strand - 0.5
		return 110 + 110*math.Sqrt(1-4*d*d)
	}
	return 35
}

func (p bareWire) bench(rec *record.Record) *bench {
	const ppm = 25.0
	cam := cameraAbove(4, 0, 4000, 4000*ppm, 700, 400)
	im := part.Image{W: 700, H: 400, Pix: make([]byte, 3*700*400)}
	f := part.Frame{Camera: cam, Origin: scale.Vec{}}
	for j := range im.H {
		for i := range im.W {
			v := 0.0
			for k := range 9 { // a pixel is the mean of what it covers
				w := cam.OnPlane(float64(i)+float64(k%3-1)/3, float64(j)+float64(k/3-1)/3, 0)
				v += p.brightness(w.X, w.Y) / 9
			}
			for c := range 3 {
				im.Pix[3*(j*im.W+i)+c] = byte(math.Round(v))
			}
		}
	}
	ref := scale.Reference{Camera: cam, RelU: 0.0005, UTiltDeg: 0.1}
	d := record.Declared{StrandDiameter: bareStrandMM, StrandCount: 50, InsulationDiameter: 2 * wireHalf}
	return newBench(Subject{Image: im, Reference: ref, Declared: d, BlurPX: 0.6,
		Part: part.Part{Frame: f, WireMM: 2 * wireHalf, FrontX: p.length, Regions: p.regions(f)}}, rec)
}

// regions is what a finder would say, as coarse as it is.
func (p bareWire) regions(f part.Frame) *part.Regions {
	const ppm = 8.0
	r := &part.Regions{Frame: f, PPM: ppm, X0: -8, Y0: 5}
	for c := range r.Prob {
		r.Prob[c] = part.NewPlane(24*ppm, 10*ppm)
	}
	for k := range r.Prob[0].Pix {
		x, y := -8+float64(k%(24*ppm))/ppm, 5-float64(k/(24*ppm))/ppm
		class := part.Ground
		switch {
		case x < p.slant*y && math.Abs(y) < wireHalf:
			class = part.Insulation
		case x < p.length && math.Abs(y) < p.half+p.fan*math.Max(0, x):
			class = part.Conductor
		}
		r.Prob[class].Pix[k] = 1
	}
	return r
}

// A flat drawing has no heights and its edges are exact. Expected values are those it was drawn with.
func TestStrippedWireDrawnFlat(t *testing.T) {
	for _, p := range []bareWire{
		{length: 8, half: 1.2},
		{length: 6.5, half: 1.2, slant: 0.1},
		{length: 9, half: 1.05, slant: -0.05, fan: 0.04},
	} {
		rec := record.New(record.Strip)
		b := p.bench(&rec)
		w, why := b.findWire()
		require.Empty(t, why)
		cut, ok := b.cutFace(w)
		require.True(t, ok)
		assert.InDelta(t, wireHalf, w.radius, 0.02)
		assert.InDelta(t, p.slant, cut.slant, 0.02, "slant of the cut")
		assert.InDelta(t, 0, cut.at, 0.03, "place of the cut")
		c, ok := b.bareSides(cut)
		require.True(t, ok)
		b.splay(c)
		assert.InDelta(t, 1+p.fan*p.length/p.half, rec.Measured[record.Splay].Value, 0.06)
		f, ok := b.frontLine(c)
		require.True(t, ok)
		mean, sd, _ := f.steady()
		assert.InDelta(t, p.length, mean, 0.03, "where the strands end")
		assert.Less(t, sd, 0.03)
	}
}

// A ridge that turns into a gap is a cut strand; whole strands show none.
func TestCutStrandIsARidgeThatBecomesAGap(t *testing.T) {
	for _, at := range []float64{0, 3.1, 5.2} {
		p := bareWire{length: 8, half: 1.2, cutStrand: at}
		rec := record.New(record.Strip)
		b := p.bench(&rec)
		w, why := b.findWire()
		require.Empty(t, why)
		cut, _ := b.cutFace(w)
		c, ok := b.bareSides(cut)
		require.True(t, ok)
		ends, _ := b.earlyEnds(c, 0.5, 7.2)
		if at == 0 {
			assert.Empty(t, ends)
			continue
		}
		require.Len(t, ends, 1)
		assert.InDelta(t, at, ends[0].X, 0.15)
		assert.InDelta(t, 2.5*bareStrandMM, ends[0].Y, 0.15)
	}
}

// The zone in which strands on top are seen to end is as deep as they were drawn to end apart, and half a strand more.
// Thirds of it are no wider than a strand, so that there is no gap in it.
func TestEndZoneIsAsDeepAsEndsLieApart(t *testing.T) {
	for _, ragged := range []float64{0, 0.45, 0.9} {
		p := bareWire{length: 8, half: 1.2, ragged: ragged}
		rec := record.New(record.Strip)
		b := p.bench(&rec)
		w, why := b.findWire()
		require.Empty(t, why)
		cut, _ := b.cutFace(w)
		c, ok := b.bareSides(cut)
		require.True(t, ok)
		f, ok := b.frontLine(c)
		require.True(t, ok)
		assert.InDelta(t, ragged+bareStrandMM/2, b.endZone(c, f), 0.25, "ends %.2f mm apart", ragged)
	}
}

// Ends of all strands from the foremost ones: of bundles drawn by chance, ends normal and strands at random places of a
// round rather than evenly spread, the true median and spread must lie within the stated uncertainty in some 95 % of draws
// (k = 2, JCGM 100:2008). The scatters drawn are those that the method expects, a factor of two to either side.
func TestAllEndsFromTheForemost(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	const draws = 60
	var within, spreadWithin int
	for range draws {
		n := 40 + rng.IntN(50)
		half := 0.15 * math.Sqrt(float64(n)/0.75)
		scatter := endUsualMM * math.Exp((2*rng.Float64()-1)*math.Ln2)
		slope := 0.3 * (2*rng.Float64() - 1)
		var x, y, z []float64
		for len(x) < n {
			py, pz := (2*rng.Float64()-1)*half, (2*rng.Float64()-1)*half
			if math.Hypot(py, pz) < half-0.15 {
				x, y, z = append(x, 8+scatter*rng.NormFloat64()), append(y, py), append(z, pz)
			}
		}
		var f frontLine
		for at := -half + 0.1; at < half-0.1; at += endLineMM {
			most := math.Inf(-1)
			for k := range x {
				if math.Abs(y[k]-at) < 0.14 {
					most = math.Max(most, x[k]+slope*z[k])
				}
			}
			if !math.IsInf(most, 0) {
				f.x, f.y = append(f.x, most+0.05*rng.NormFloat64()), append(f.y, at)
			}
		}
		seen := make([]float64, n)
		for k := range x {
			seen[k] = x[k] + slope*z[k]
		}
		zone := zoneOf(seen, y, z, 0.3, func() bool { return rng.IntN(4) > 0 })
		e := allEnds(f, zone, n, 0.3, slope, 0.05, 1)
		if math.Abs(e.median-subpixel.Percentile(x, 50)) < 2*e.uMedian {
			within++
		}
		if math.Abs(e.spread-(slices.Max(x)-slices.Min(x))) < 2*e.uSpread {
			spreadWithin++
		}
	}
	assert.GreaterOrEqual(t, within, draws*88/100, "median within its u")
	assert.GreaterOrEqual(t, spreadWithin, draws*88/100, "spread within its u")
}

// The closed form of the shortest of several ends against plain draws.
func TestShortestOf(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(4, 12).Draw(t, "length")
		x := rapid.Float64Range(0.1, 1).Draw(t, "share") * length
		rng := rand.New(rand.NewPCG(1, 1))
		var v []float64
		for range 20000 {
			v = append(v, math.Min(x, math.Min(length*rng.Float64(), length*rng.Float64())))
		}
		mean, sd := shortestOf(x, length, 2)
		assert.InDelta(t, meanOf(v), mean, 0.02*length)
		assert.InDelta(t, spreadOf([][]float64{v}, 0, len(v)), sd, 0.02*length)
	})
}
