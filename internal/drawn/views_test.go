package drawn

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

// plainStrip is a stripped wire seen straight from far above at 20 px/mm, its cut in the picture's middle.
func plainStrip() Scene {
	s := plain()
	s.View = record.Strip
	s.Part.Sleeve, s.Part.Body, s.Part.Brush, s.Part.Wire.GapMM = Sleeve{SheetMM: 0.65}, Body{}, Brush{}, 0
	s.Part.Strip = &Strip{LengthMM: 8, Splay: 1}
	return s
}

func TestStripEndsLieWhereTruthSays(t *testing.T) {
	s := plainStrip()
	s.Part.Strip.Splay = 1.5
	v := s.Truth().Values
	r := s.renderer()
	cut := r.change([2]float64{349.5 - 60, 149.5 - 50}, [2]float64{349.5 + 40, 149.5 - 50}, insulation)
	assert.InDelta(t, 349.5, cut[0], 0.3)
	end := r.change([2]float64{349.5, 149.5}, [2]float64{349.5 + 220, 149.5}, strand)
	assert.InDelta(t, v[record.StripLength], (end[0]-cut[0])/20, 0.05, "splayed ends stand a little before their middle")
	wide := func(x float64) float64 {
		px := 349.5 + 20*x
		low := r.change([2]float64{px, 149.5}, [2]float64{px, 149.5 + 80}, strand)
		high := r.change([2]float64{px, 149.5}, [2]float64{px, 149.5 - 80}, strand)
		return (low[1] - high[1]) / 20
	}
	assert.InDelta(t, v[record.Splay], wide(7.95)/wide(0.05), 0.02)
	assert.InDelta(t, 0, v[record.InsulationCutAngle], 1e-9)
	assert.Zero(t, v[record.CutStrands])
}

// What is built in comes out of truth, whatever the seed: a strip twice as long, cut strands by their number, an oblique cut.
func TestStripTruthFollowsTheWire(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := plainStrip()
		s.Seed = int64(rapid.IntRange(1, 1_000_000).Draw(t, "seed"))
		k := s.Part.Strip
		k.LengthMM, k.SpreadMM = rapid.Float64Range(5, 10).Draw(t, "length"), 0.3
		a := s.Truth().Values
		// The lay's slope makes the flat ends lean; over twice the length it is the same.
		twice := *k
		twice.LengthMM, twice.SpreadMM = 2*k.LengthMM, 2*k.SpreadMM
		s.Part.Strip = &twice
		b := s.Truth().Values
		assert.InDelta(t, 2*a[record.StripLength], b[record.StripLength], 0.08)
		assert.InDelta(t, 2*a[record.StrandEndSpread], b[record.StrandEndSpread], 0.16)
		twice.Early = []float64{1, 3, 1.5}
		assert.EqualValues(t, 3, s.Truth().Values[record.CutStrands])
		assert.Greater(t, s.Truth().Values[record.StrandEndSpread], 2.4)
		skew := rapid.Float64Range(-20, 20).Draw(t, "skew")
		s.Part.Wire.CutSkewDeg = skew
		assert.InDelta(t, math.Abs(skew), s.Truth().Values[record.InsulationCutAngle], 1e-9)
		for _, key := range record.Keys(record.Strip) {
			assert.Contains(t, a, key)
		}
	})
}

func TestStripLabels(t *testing.T) {
	s := plainStrip()
	labels := s.classes()
	n := areas(labels)
	// The bundle is a little narrower than the circle that it is laid in.
	assert.InEpsilon(t, 400*8*2*s.Part.geometry(3).conductor, n[classConductor], 0.06)
	assert.InEpsilon(t, 20*349.5*6, n[classInsulation], 0.02)
	for c := classSleeve; c <= classInside; c++ {
		assert.Zero(t, n[c])
	}
}

// plainSide is the plain part on its side.
func plainSide(roll float64) Scene {
	s := plain()
	s.View, s.Part.RollDeg = record.Side, roll
	return s
}

func TestEdgesOfThePartOnItsSide(t *testing.T) {
	for _, roll := range []float64{90, -90} {
		s := plainSide(roll)
		r := s.renderer()
		v := s.Truth().Values
		up := 1.0 // the seam lies upwards in the picture where the part's z runs to the world's -y and y runs down
		if roll > 0 {
			up = -1
		}
		px := func(x, z float64) [2]float64 { return [2]float64{349.5 + 20*(x-3.5), 149.5 - 20*up*z} }
		for _, x := range []float64{1.5, 3.3, 5.9} {
			a, b := r.change(px(x, 0), px(x, 3), sheet), r.change(px(x, 0), px(x, -3), sheet)
			assert.InDelta(t, v[record.SleeveWidth], math.Abs(a[1]-b[1])/20, 0.012)
			assert.InDelta(t, 1.5, math.Abs(a[1]-149.5)/20, 0.012, "the humps' top")
		}
		rear, front := r.change(px(3, 0), px(-1.5, 0), sheet), r.change(px(3, 0), px(8.5, 0), sheet)
		assert.InDelta(t, v[record.SleeveLength], (front[0]-rear[0])/20, 0.012)
		cut := r.change(px(-3, 0), px(0, 0), insulation)
		assert.InDelta(t, v[record.InsulationGapMean], (rear[0]-cut[0])/20, 0.012)
		flared := r.change(px(0.01, 0), px(0.01, 4), sheet)
		straight := r.change(px(3, 0), px(3, 4), sheet)
		assert.InDelta(t, v[record.BellmouthFlare], math.Abs(straight[1]-flared[1])/20, 0.02)
		longest := 0.0
		for z := -1.5; z <= 1.5; z += 0.05 {
			p := r.change(px(6.9, z), px(9.4, z), strandEnd)
			longest = max(longest, (p[0]-349.5)/20-3.5)
		}
		assert.InDelta(t, v[record.BrushMax], longest, 0.02)
		for _, key := range record.Keys(record.Side) {
			assert.Contains(t, v, key)
		}
	}
}

// The body's axis is seen at its rise: its outline's middle at two places.
func TestRiseIsTheBendInTheSideView(t *testing.T) {
	s := plainSide(90)
	s.Part.Body.RiseDeg, s.Part.Body.LengthMM = 6, 12
	s.Part.CentreMM = [2]float64{-8, 0}
	r := s.renderer()
	middle := func(x float64) float64 {
		px := 349.5 + 20*(x-3.5-8)
		centre := 149.5 + 20*math.Tan(radians(6))*(x-7)
		a := r.change([2]float64{px, centre}, [2]float64{px, centre + 60}, body)
		b := r.change([2]float64{px, centre}, [2]float64{px, centre - 60}, body)
		return (a[1] + b[1]) / 2
	}
	got := math.Atan((middle(19)-middle(17))/40) * 180 / math.Pi
	assert.InDelta(t, s.Truth().Values[record.Bend], got, 0.5)
	assert.InDelta(t, 6, s.Truth().Values[record.Bend], 1e-9)
}

// A part that is its own mirror image looks the same from both sides: what is oblique changes its sign.
func TestSideTruthIsMirrored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Varied(int64(rapid.IntRange(1, 1_000_000).Draw(t, "seed")), record.Side)
		s.Part.Wire.CutRippleMM, s.Part.Brush, s.Part.RollDeg = 0, Brush{}, 90
		a := s.Truth().Values
		s.Part.RollDeg = -90
		s.Part.Wire.CutSkewDeg, s.Part.Body.BendDeg = -s.Part.Wire.CutSkewDeg, -s.Part.Body.BendDeg
		b := s.Truth().Values
		for _, key := range record.Keys(record.Side) {
			assert.InDelta(t, a[key], b[key], 1e-9, string(key))
		}
	})
}

func TestStrayBesideThePartIsSeenFromItsSide(t *testing.T) {
	s := plainSide(90)
	before := s.classes()
	for _, k := range []Stray{{Up: true, Left: true, RootDeg: 20, ReachMM: 1.5, AlongMM: 2}, {Up: true, RootDeg: -20, ReachMM: 1.5, AlongMM: 2, Back: true},
		{Up: true, Front: true, RootDeg: 20, ReachMM: 1.5, AlongMM: 2}} {
		k.DiameterMM = 0.3
		s.Part.Strays = []Stray{k}
		labels, truth := s.classes(), s.Truth()
		assert.EqualValues(t, 1, truth.Values[record.StrayCount])
		outside := 0
		for i, c := range labels.Pix {
			if class(c) == classStray && class(before.Pix[i]) == classGround {
				outside++
			}
		}
		assert.Greater(t, outside, int(400*0.3*1.2), "%+v", k)
	}
}

func TestVariedScenesShowAll(t *testing.T) {
	for i, view := range Views {
		for seed := int64(1); seed <= 12; seed++ {
			s := Varied(seed, view)
			require.Equal(t, s, Varied(seed, view))
			truth := s.Truth()
			for _, key := range record.Keys(view) {
				require.Contains(t, truth.Values, key)
				require.False(t, math.IsNaN(truth.Values[key]), "seed %d %s %s", seed, view, key)
			}
			require.NotEmpty(t, truth.Aid.Reference)
			if seed%4 != int64(i) {
				continue
			}
			r := s.renderer()
			for y := 0.0; y < 1500; y += 13.7 {
				for x := 0.0; x < 2000; x += 13.7 {
					c, what := r.sample(x, y)
					require.False(t, math.IsNaN(c.X+c.Y+c.Z) || c.X < 0, "seed %d %s, pixel %v %v, %v: %v", seed, view, x, y, what, c)
				}
			}
		}
	}
}
