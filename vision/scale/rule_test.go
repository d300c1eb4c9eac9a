package scale

import (
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// plainRule lies 12 mm aside of the picture's middle, where the part would be.
func plainRule(tiltDeg, aboutDeg, turnDeg float64) drawnRule {
	size := image.Pt(1000, 750)
	return drawnRule{camera: looking(size, 3000, 190, tiltDeg, aboutDeg, turnDeg, 0, 0).shiftedBy(0, 14), size: size, below: edgeOfMM, from: -60, to: 60}
}

// shiftedBy is the camera with the world moved under it.
func (c Camera) shiftedBy(x, y float64) Camera {
	c.T = Vec{
		c.T.X + c.R[0][0]*x + c.R[0][1]*y,
		c.T.Y + c.R[1][0]*x + c.R[1][1]*y,
		c.T.Z + c.R[2][0]*x + c.R[2][1]*y,
	}
	return c
}

// checkRule holds a found rule against the drawn one: places on graduations to a tenth of a pixel, scale and direction of view
// within 3 standard uncertainties, wherever the part may lie. A rule does not show its shift along the graduations, so
// only what does not depend on it is compared.
func checkRule(t *testing.T, d drawnRule, ref Reference, pitchMM float64) {
	t.Helper()
	assert.Equal(t, "rule", ref.Kind)
	sum := 0.
	for _, p := range ref.Points {
		w := d.camera.OnPlane(p.X, p.Y, 0)
		off := (w.X - pitchMM*math.Round(w.X/pitchMM)) / d.camera.mmPerPX(p.X, p.Y, 0)
		sum += off * off / float64(len(ref.Points))
	}
	assert.Less(t, math.Sqrt(sum), 0.12, "rms of the graduations, px")
	assert.Less(t, math.Abs(math.Log(ref.Camera.Position().Z/d.camera.Position().Z)), 3*ref.RelUDistance)
	for _, p := range []pt{{float64(d.size.X) / 2, float64(d.size.Y) / 2}, {float64(d.size.X) * 0.2, float64(d.size.Y) * 0.7}} {
		for _, z := range []float64{0, 2.5} {
			u := ref.RelUAt(p.x, p.y, z)
			assert.Less(t, u, 0.011) // without a focal length, a strong tilt's foreshortening is known no better
			assert.InDelta(t, 0, math.Log(ref.MMPerPX(p.x, p.y, z)/d.camera.mmPerPX(p.x, p.y, z)), 3*u, "scale at %v, z %v, u %.5f", p, z, u)
		}
		ax, ay := slant(ref.Camera, p.x, p.y, 0)
		bx, by := slant(d.camera, p.x, p.y, 0)
		u := ref.UViewDeg(ref.Camera.OnPlane(p.x, p.y, 0))
		assert.InDelta(t, bx, ax, 3*u, "direction of view, deg")
		assert.InDelta(t, by, ay, 3*u, "direction of view, deg")
	}
}

func TestRuleAtAnyTurn(t *testing.T) {
	cover := func(x, y float64) bool { return math.Hypot(x-12, y+7) < 7 || math.Abs(x+0.4*y+14) < 3 }
	half := func(x, _ float64) float64 { return 1 - 0.6/(1+math.Exp(-(x-3)/0.2)) }
	for name, c := range map[string]struct {
		tilt, about, turn float64
		change            func(d *drawnRule)
	}{
		"square above":            {0, 0, 3, nil},
		"turned by 37, tilted":    {9, 20, 37, nil},
		"turned by 90, tilted":    {12, 90, 90, nil},
		"turned by 151":           {5, 45, 151, nil},
		"turned by 215, tilted":   {15, 130, 215, nil},
		"turned by 305":           {3, 70, 305, nil},
		"hidden by part and hand": {6, 30, 20, func(d *drawnRule) { d.cover = cover }},
		"hard shadow":             {6, 30, 75, func(d *drawnRule) { d.shade = half }},
		"brushed":                 {6, 30, 120, func(d *drawnRule) { d.grain = 14 }},
		"a piece of 24 mm":        {6, 30, 60, func(d *drawnRule) { d.from, d.to = -8, 16 }},
		"half millimetres above":  {6, 30, -20, func(d *drawnRule) { d.above = edgeHalf }},
		"sixteenths above":        {6, 30, 200, func(d *drawnRule) { d.above = edge16ths }},
		"thirty-seconds above":    {6, 30, 240, func(d *drawnRule) { d.above = edge32nds }},
		"far away, 9 px/mm":       {4, 30, 15, func(d *drawnRule) { d.camera.F = 1700 }},
		"soft":                    {4, 30, 15, func(d *drawnRule) { d.soft = [2]float64{1.6, 1.6} }},
		"distorted, 13 px/mm":     {4, 30, 15, func(d *drawnRule) { d.camera.F, d.camera.K1 = 2500, 0.04 }},
	} {
		t.Run(name, func(t *testing.T) {
			d := plainRule(c.tilt, c.about, c.turn)
			if c.change != nil {
				c.change(&d)
			}
			m := d.draw(t)
			ref, err := Rule(m, m, 1, 0)
			require.NoError(t, err)
			assert.Empty(t, ref.Notes)
			checkRule(t, d, ref, 1)
		})
	}
}

// What is not divided into millimetres is never taken for it.
func TestRuleTellsInches(t *testing.T) {
	for name, c := range map[string]struct {
		below, above edge
		want         string
	}{
		"sixteenths":      {edge16ths, edge{}, "inch"},
		"thirty-seconds":  {edge32nds, edge{}, "inch"},
		"both":            {edge16ths, edge32nds, "inch"},
		"all of a length": {edgeEven, edge{}, "2 cm"},
		"none":            {edge{}, edge{}, "no scale"},
	} {
		for _, turn := range []float64{10, 100, 260} {
			d := plainRule(6, 30, turn)
			d.below, d.above = c.below, c.above
			m := d.draw(t)
			_, err := Rule(m, m, 1, 0)
			var refusal Refusal
			require.ErrorAs(t, err, &refusal, name)
			assert.Contains(t, refusal.Reason, c.want, name)
		}
	}
}

func TestRuleOfHalfMillimetres(t *testing.T) {
	d := plainRule(6, 30, 25)
	d.below = edgeHalf
	m := d.draw(t)
	ref, err := Rule(m, m, 0.5, 0)
	require.NoError(t, err)
	assert.Empty(t, ref.Notes)
	checkRule(t, d, ref, 0.5)
	ref, err = Rule(m, m, 1, 0)
	require.NoError(t, err)
	require.Len(t, ref.Notes, 1)
	assert.Contains(t, ref.Notes[0], "0.5 mm apart")
	checkRule(t, d, ref, 0.5)
	_, err = Rule(m, m, 2, 0)
	assert.ErrorContains(t, err, "2 mm apart")
}

// Too little of a rule to tell millimetres from anything else.
func TestRuleTooShort(t *testing.T) {
	d := plainRule(6, 30, 25)
	d.from, d.to = -1.5, 7.5
	m := d.draw(t)
	_, err := Rule(m, m, 1, 0)
	var refusal Refusal
	require.ErrorAs(t, err, &refusal)
}

// The blur that was drawn is read off the graduations, in the direction in which it is the larger. The drawn pixels add their own
// width, a standard deviation of 1/sqrt(12).
func TestRuleBlur(t *testing.T) {
	for _, soft := range [][2]float64{{1.5, 1.5}, {0.3, 5}, {3, 0.3}} {
		d := plainRule(2, 30, 0)
		d.soft = soft
		m := d.draw(t)
		ref, err := Rule(m, m, 1, 0)
		require.NoError(t, err)
		blur, ok := ref.BlurPX(m)
		require.True(t, ok)
		assert.InEpsilon(t, math.Hypot(math.Max(soft[0], soft[1]), math.Sqrt(1./12)), blur, 0.12, "%v", soft)
	}
	d := plainRule(2, 30, 40)
	d.soft = [2]float64{20, 20}
	m := d.draw(t)
	_, err := Rule(m, m, 1, 0)
	assert.ErrorContains(t, err, "blurred")
}

func TestRuleTones(t *testing.T) {
	d := plainRule(2, 30, 40)
	d.shade = func(float64, float64) float64 { return 0.5 }
	m := d.draw(t)
	ref, err := Rule(m, m, 1, 0)
	require.NoError(t, err)
	light, dark, ok := ref.Tones(m)
	require.True(t, ok)
	assert.InDelta(t, drawnSteel/2, light, 4)
	assert.InDelta(t, drawnInk/2, dark, 12)
}

// Stripes of all kinds are no rule: squared paper, strands, grain, text-like dashes.
func TestStripesAreNoRule(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	lines := make([][3]float64, 300)
	for i := range lines {
		lines[i] = [3]float64{random.Float64()*60 - 30, random.Float64()*44 - 22, 0.5 + 3*random.Float64()}
	}
	for name, ink := range map[string]func(x, y float64) bool{
		"squared paper, 1 mm": func(x, y float64) bool {
			w := func(v float64) bool {
				k := math.Round(v)
				return math.Abs(v-k) < pick(int(math.Abs(k))%10 == 0, 0.12, 0.06)
			}
			return w(x) || w(y)
		},
		"squared paper, 5 mm": func(x, y float64) bool {
			return math.Abs(x-5*math.Round(x/5)) < 0.1 || math.Abs(y-5*math.Round(y/5)) < 0.1
		},
		"strands": func(x, y float64) bool {
			u := x + 0.15*y
			return math.Abs(y) < 8 && math.Abs(u-0.3*math.Round(u/0.3)) < 0.05
		},
		"a comb": func(x, y float64) bool { return y > 0 && y < 12 && math.Abs(x-1.2*math.Round(x/1.2)) < 0.15 },
		"grain, all one way": func(x, y float64) bool {
			for _, l := range lines {
				if math.Abs(y-l[1]) < 0.05 && math.Abs(x-l[0]) < l[2] {
					return true
				}
			}
			return false
		},
		"bars of a bar code": func(x, y float64) bool {
			r := rand.New(rand.NewPCG(7, uint64(int64(math.Floor(x/0.33)+1000))))
			return y > 0 && y < 9 && r.IntN(2) == 0
		},
	} {
		for _, turn := range []float64{5, 65} {
			size := image.Pt(800, 600)
			c := looking(size, 2700, 190, 5, 30, turn, 0, 0)
			m := paint(t, c, size, ink)
			_, err := Rule(m, m, 1, 0)
			var refusal Refusal
			assert.ErrorAs(t, err, &refusal, name)
		}
	}
}

// paint draws dark ink on white paper in the plane z = 0.
func paint(t *testing.T, c Camera, size image.Point, ink func(x, y float64) bool) gocv.Mat {
	m := gocv.NewMatWithSize(size.Y, size.X, gocv.MatTypeCV8UC1)
	t.Cleanup(func() { _ = m.Close() })
	data, err := m.DataPtrUint8()
	require.NoError(t, err)
	for i := range data {
		v := 0.
		for k := range 4 {
			w := c.OnPlane(float64(i%size.X)+0.5*float64(k%2)-0.25, float64(i/size.X)+0.5*float64(k/2)-0.25, 0)
			v += pick(ink(w.X, w.Y), 12., 55.)
		}
		data[i] = uint8(v)
	}
	return m
}

func TestRuleOddPictures(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 9))
	for _, size := range []image.Point{{1, 1}, {3, 2}, {1, 5000}, {7000, 2}, {40, 40}, {333, 222}, {1500, 900}} {
		data := make([]byte, size.X*size.Y)
		for i := range data {
			data[i] = uint8(random.IntN(256))
		}
		m, err := gocv.NewMatFromBytes(size.Y, size.X, gocv.MatTypeCV8UC1, data)
		require.NoError(t, err)
		_, err = Rule(m, m, 1, 0)
		var refusal Refusal
		assert.True(t, errors.As(err, &refusal), "%v: %v", size, err)
		_ = m.Close()
	}
	empty := gocv.NewMat()
	defer func() { _ = empty.Close() }()
	_, err := Rule(empty, empty, 1, 0)
	assert.Error(t, err)
}

// The misfit of a place on a line is its distance from the line's picture, in px, signed and square to it.
func TestOnLineMisfit(t *testing.T) {
	c := looking(image.Pt(1400, 1050), 4200, 190, 12, 40, 25, 3, -2)
	c.K1 = 0.03
	ax, ay := c.Project(Vec{7, -4, 0})
	bx, by := c.Project(Vec{7, 5, 0})
	mx, my := c.Project(Vec{7, 1, 0})
	across := pt{-(by - ay), bx - ax}
	across = across.mul(1 / across.norm())
	for _, off := range []float64{-2, 0, 0.3} {
		var got [2]float64
		onLine{7, pt{mx, my}.add(across.mul(off)), 0.5}.misfit(c, got[:])
		assert.InDelta(t, off/0.5, got[0], 0.01)
	}
}
