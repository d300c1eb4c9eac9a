package photo

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/subpixel"
)

// bed is a picture drawn in the part's frame: a ground's brightness (B, G, R) and things over it, later ones on top.
// Pixels are averages over 4 x 4 places, so that lengths and widths are exact. The truth is the drawing's own geometry.
type bed struct {
	ground func(x, y float64) [3]float64
	things []func(x, y float64, v *[3]float64)
}

const (
	bedStrand          = 0.3
	bedRear, bedFront  = 0.8, 8.0
	bedWire, bedSleeve = 2.9, 2.2
	bedBundle          = 1.4
	bedWest, bedEast   = -6.5, 14.5
	bedSide, bedPPM    = 11.0, 16.0
	bedNoise           = 1.5
)

func plain(float64, float64) [3]float64 { return [3]float64{150, 155, 160} }

// bedPart is insulation, conductor, sleeve and body in plain tones.
func bedPart(x, y float64, v *[3]float64) {
	switch a := math.Abs(y); {
	case x < 0 && a < bedWire:
		*v = [3]float64{30, 30, 35}
	case x >= 0 && x < bedRear && a < bedBundle:
		*v = [3]float64{60, 90, 150}
	case x >= bedRear && a < bedSleeve:
		*v = [3]float64{175, 180, 182}
	}
}

// strandOf paints a strand's width along a polyline.
func strandOf(path []subpixel.Point, paint func(v *[3]float64)) func(x, y float64, v *[3]float64) {
	return func(x, y float64, v *[3]float64) {
		for k := 1; k < len(path); k++ {
			a, b := path[k-1], path[k]
			dx, dy := b.X-a.X, b.Y-a.Y
			t := ((x-a.X)*dx + (y-a.Y)*dy) / (dx*dx + dy*dy)
			if t >= 0 && t <= 1 && math.Abs((x-a.X)*dy-(y-a.Y)*dx)/math.Hypot(dx, dy) < bedStrand/2 {
				paint(v)
				return
			}
		}
	}
}

func copper(v *[3]float64) { *v = [3]float64{60, 95, 170} }
func shade(v *[3]float64)  { v[0], v[1], v[2] = 0.6*v[0], 0.6*v[1], 0.6*v[2] }

// arc leaves (x, y) at an angle (degrees from x) and turns by curve degrees a mm.
func arc(x, y, angle, curve, length float64) []subpixel.Point {
	const step = 0.1
	p := []subpixel.Point{{X: x, Y: y}}
	for l := step; l <= length+1e-9; l += step {
		a := (angle + curve*(l-step/2)) * math.Pi / 180
		x, y = x+step*math.Cos(a), y+step*math.Sin(a)
		p = append(p, subpixel.Point{X: x, Y: y})
	}
	return p
}

func moved(p []subpixel.Point, dx, dy float64) (out []subpixel.Point) {
	for _, q := range p {
		out = append(out, subpixel.Point{X: q.X + dx, Y: q.Y + dy})
	}
	return out
}

// relief draws the bed.
func (b *bed) relief() *relief {
	const sub = 4
	ppm, width, height := bedPPM, bedEast-bedWest, 2*bedSide
	r := blankRelief(bedWest, bedSide, int(width*ppm), int(height*ppm), ppm, bedStrand)
	random := rand.New(rand.NewPCG(1, 2))
	for k := range r.inside {
		var mean [3]float64
		for m := range sub * sub {
			x := r.x0 + (float64(k%r.w)+(float64(m%sub)+0.5)/sub-0.5)/ppm
			y := r.y0 - (float64(k/r.w)+(float64(m/sub)+0.5)/sub-0.5)/ppm
			v := b.ground(x, y)
			for _, t := range b.things {
				t(x, y, &v)
			}
			for c := range v {
				mean[c] += v[c] / (sub * sub)
			}
		}
		n := bedNoise * random.NormFloat64()
		r.put(k, [3]float32{float32(mean[0] + n), float32(mean[1] + n), float32(mean[2] + n)}, true)
	}
	r.smooth()
	return r
}

func bedShape() strayShape {
	return strayShape{
		rear: bedRear, front: bedFront, wire: bedWire, bundle: bedBundle,
		left: func(float64) float64 { return bedSleeve }, right: func(float64) float64 { return -bedSleeve },
	}
}

// TestStraysDrawn: strays, their shadows and things that are none, all of known geometry.
func TestStraysDrawn(t *testing.T) {
	type path = []subpixel.Point
	out := arc(0.4, 1.2, 100, 8, 4.5)     // leaves the gap to the left, bends back over the insulation
	forward := arc(0.4, -1.2, -75, 12, 4) // leaves the gap to the right, bends to the front
	front := arc(8.4, 1.2, 80, -6, 3)     // leaves the brush
	alone := arc(5, 3.5, 60, 0, 3)        // lies beside the sleeve, touches nothing
	weave := func(x, y float64) [3]float64 {
		v := 1 + 0.1*math.Sin(x*2*math.Pi/0.7)*math.Sin(y*2*math.Pi/0.7)
		return [3]float64{120 * v, 100 * v, 90 * v}
	}
	half := func(x, y float64) [3]float64 { // the edge of a broad shadow runs along the part
		if y > 4 {
			return plain(x, y)
		}
		return [3]float64{75, 78, 80}
	}
	slip := func(x, y float64) [3]float64 { // the corner of a white slip near the brush
		if x > 8.8 && y > 2.5 {
			return [3]float64{235, 235, 235}
		}
		return plain(x, y)
	}
	for name, c := range map[string]struct {
		ground  func(x, y float64) [3]float64
		strands []path
		shadow  bool
		lengths []float64 // of the strays, shortest first
	}{
		"none":                {plain, nil, false, nil},
		"none, woven ground":  {weave, nil, false, nil},
		"none, slip's edge":   {slip, nil, false, nil},
		"none, shadow's edge": {half, nil, false, nil},
		"beside, no root":     {plain, []path{alone}, false, nil},
		"from the gap":        {plain, []path{out}, false, []float64{4.5}},
		"with its shadow":     {plain, []path{out}, true, []float64{4.5}},
		"woven ground":        {weave, []path{out}, true, []float64{4.5}},
		"out of a shadow":     {half, []path{out}, false, []float64{4.5}},
		"three":               {plain, []path{out, forward, front}, true, []float64{3, 4, 4.5}},
	} {
		t.Run(name, func(t *testing.T) {
			b := &bed{ground: c.ground}
			for _, s := range c.strands {
				if c.shadow {
					b.things = append(b.things, strandOf(moved(s, 0.9, 0.8), shade))
				}
			}
			b.things = append(b.things, bedPart)
			for _, s := range c.strands {
				b.things = append(b.things, strandOf(s, copper))
			}
			found, _ := b.relief().searchStrays(bedShape())
			require.Len(t, found, len(c.lengths))
			var got []float64
			for _, f := range found {
				got = append(got, f.length()/climb) // the drawing is flat
			}
			slices.Sort(got)
			assert.InDeltaSlice(t, c.lengths, got, 0.6, "root to tip; where on the conductor it begins is hidden")
		})
	}
}

// TestStripeAnswersToStripesOnly: an edge and a slope give next to nothing whatever their direction; a stripe gives its
// own contrast, once for each channel.
func TestStripeAnswersToStripesOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, math.Pi).Draw(t, "direction")
		contrast := rapid.SampledFrom([]float64{-1, 1}).Draw(t, "dark or bright") * rapid.Float64Range(0.05, 1).Draw(t, "ln")
		const side, mid = 48, 24
		r := blankRelief(0, 3, side, side, bedPPM, bedStrand)
		stripe := func(f func(across float64) float64) float64 {
			for k := range r.ln[0] {
				across := float64(k/side-mid)*math.Cos(a) - float64(k%side-mid)*math.Sin(a)
				r.inside[k] = true
				for c := range r.ln {
					r.ln[c][k] = float32(4 + contrast*f(across))
				}
			}
			return r.stripe(mid, mid, math.Cos(a), math.Sin(a)) / math.Abs(contrast)
		}
		assert.Less(t, stripe(func(d float64) float64 { return 1 / (1 + math.Exp(-d)) }), 0.25, "an edge")
		assert.InDelta(t, 0, stripe(func(d float64) float64 { return d / 10 }), 0.1, "a slope")
		assert.InDelta(t, math.Sqrt(3), stripe(func(d float64) float64 {
			if math.Abs(d) < r.strandPX/2 {
				return 1
			}
			return 0
		}), 0.02, "a stripe")
	})
}
