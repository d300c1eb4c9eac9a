package drawn

import (
	"encoding/json"
	"hash/fnv"
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

// plain is a symmetric part seen straight from far above at 20 px/mm by a camera without any fault, so that lengths in
// the picture are lengths of the part.
func plain() Scene {
	s := Scene{Seed: 3, Width: 700, Height: 300}
	s.Camera = Camera{DistanceMM: 1e5, FocalPX: 2e6}
	s.Ground = Ground{Kind: "card", Colour: [3]float64{0.8, 0.8, 0.8}}
	s.Board = Board{None: true}
	s.Light = Light{Kind: "overcast"}
	s.Sensor = Sensor{Quality: 95}
	s.Part = Part{AxisMM: 3.2, Metal: "tin",
		Wire: Wire{InsulationDiameterMM: 6, Colour: [3]float64{0.03, 0.03, 0.03}, AreaMM2: 4, Strands: 56, StrandDiameterMM: 0.3,
			StrandMetal: "copper", LayMM: 30, GapMM: 0.8},
		Sleeve: Sleeve{LengthMM: 7, WidthMM: 4.2, HeightMM: 3, SheetMM: 0.65, HumpRound: 0.9, OpeningMM: 0.2, OpeningFrontMM: 0.2,
			BellmouthMM: 0.7, BellmouthFlareMM: 0.2},
		Body:  Body{NeckMM: 2.5, RadiusMM: 1.9, LengthMM: 6},
		Brush: Brush{0.7, 0.2}}
	return s
}

// change finds where, on the way from a to b (pixels), one stuff ends. The rounded edge belongs to the sheet.
func (r *renderer) change(a, b [2]float64, of stuff) [2]float64 {
	at := func(t float64) [2]float64 { return [2]float64{a[0] + t*(b[0]-a[0]), a[1] + t*(b[1]-a[1])} }
	is := func(t float64) bool {
		p := at(t)
		_, s := r.sample(p[0], p[1])
		return s == of || of == sheet && s == sheetEnd
	}
	last := -1.0
	for i := range 601 {
		if t := (float64(i) + 0.5) / 600; is(t) {
			last = t
		}
	}
	return at(last)
}

func TestEdgesOfThePartLieWhereTruthSays(t *testing.T) {
	s := plain()
	r := s.renderer()
	v := s.Truth().Values
	const scale, cx, cy = 20.0, 349.5, 149.5 // px/mm; the middle of the sleeve is the middle of the picture
	px := func(x, y float64) [2]float64 { return [2]float64{cx + scale*(x-3.5), cy - scale*y} }

	for _, x := range []float64{1.5, 3.3, 5.9} {
		left := r.change(px(x, 1), px(x, 4), sheet)
		right := r.change(px(x, -1), px(x, -4), sheet)
		assert.InDelta(t, v[record.SleeveWidth], (right[1]-left[1])/scale, 0.01, "width at %v", x)
		leftTip := r.change(px(x, 1), px(x, 0), sheet)
		rightTip := r.change(px(x, -1), px(x, 0), sheet)
		assert.InDelta(t, v[record.SeamOpeningMax], (rightTip[1]-leftTip[1])/scale, 0.01, "opening at %v", x)
		assert.InDelta(t, v[record.WingWidthLeft], (leftTip[1]-left[1])/scale, 0.01)
		assert.InDelta(t, v[record.WingWidthRight], (right[1]-rightTip[1])/scale, 0.01)
	}
	rear, front := r.change(px(3, 1.1), px(-1.5, 1.1), sheet), r.change(px(3, 1.1), px(8.5, 1.1), sheet)
	assert.InDelta(t, v[record.SleeveLength], (front[0]-rear[0])/scale, 0.01)
	gap, n := 0.0, 0
	for y := -0.8 * r.part.conductor; y <= 0.8*r.part.conductor; y += 0.1 {
		cut := r.change(px(-3, y), px(0, y), insulation)
		edge := r.change(px(3, 1.1), px(-1.5, 1.1), sheet)
		gap, n = gap+(edge[0]-cut[0])/scale, n+1
	}
	assert.InDelta(t, v[record.InsulationGapMean], gap/float64(n), 0.01)
	flared := r.change(px(0.01, 1.5), px(0.01, 4), sheet)
	straight := r.change(px(3, 1.5), px(3, 4), sheet)
	assert.InDelta(t, v[record.BellmouthFlare], (straight[1]-flared[1])/scale, 0.02)
}

func TestBrushTipsLieWhereTruthSays(t *testing.T) {
	s := plain()
	r := s.renderer()
	v := s.Truth().Values
	// The longest strand that can be seen ends where the last strand is met on any line along the axis.
	longest := 0.0
	for y := -2.0; y <= 2; y += 0.05 {
		p := r.change([2]float64{349.5 + 20*3.4, 149.5 - 20*y}, [2]float64{349.5 + 20*6, 149.5 - 20*y}, strandEnd)
		longest = max(longest, (p[0]-349.5)/20-3.5)
	}
	assert.InDelta(t, v[record.BrushMax], longest, 0.01)
	assert.Greater(t, v[record.BrushMin], 0.3)
	assert.InDelta(t, 0.7, v[record.BrushMean], 0.1)
}

// The picture itself, not only the geometry: a dark insulation on a white card and a printed board change their colour
// where projected geometry says, to 0.2 px.
func TestColoursChangeWhereGeometrySays(t *testing.T) {
	s := plain()
	s.Part.CentreMM = [2]float64{9, 0}
	s.Board = Board{Cols: 4, Rows: 3, SquareMM: 2, CentreMM: [2]float64{-7, -1}, Ink: 0.02, Paper: 0.9, TurnDeg: 0, HeightMM: 0.1}
	s.Part.CentreMM = [2]float64{12, 3.5}
	img, truth := s.Render()
	// Insulation: its sides are 6 mm apart, about y = 3.5 mm.
	x := 480
	top, bottom := crossing(img, x, 149-20*7-0, 80), crossing(img, x, 80, 149+2)
	assert.InDelta(t, 6*20, bottom-top, 0.4)
	assert.InDelta(t, 149.5-20*3.5, (bottom+top)/2, 0.2)
	// Board: beside each inner corner the print's edge runs through it.
	for _, c := range truth.Aid.Corners[5:7] {
		at := crossing(img, int(math.Round(c[0]))+12, int(c[1])-12, int(c[1])+12)
		assert.InDelta(t, c[1], at, 0.2)
	}
}

// crossing finds where a column of the picture passes half of the way, in linear light, between its ends.
func crossing(img *image.NRGBA, x, from, to int) float64 {
	at := func(y int) float64 {
		v := float64(img.NRGBAAt(x, y).G) / 255
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	half := (at(from) + at(to)) / 2
	for y := from; y < to; y++ {
		if a, b := at(y), at(y+1); (a-half)*(b-half) <= 0 && a != b {
			return float64(y) + (half-a)/(b-a)
		}
	}
	return math.NaN()
}

func TestSymmetricSceneIsSymmetric(t *testing.T) {
	v := plain().Truth().Values
	assert.InDelta(t, 1, v[record.Symmetry], 1e-9)
	assert.InDelta(t, 0, v[record.SeamOffset], 1e-9)
	assert.InDelta(t, 0, v[record.SeamAngle], 1e-9)
	assert.InDelta(t, 2, v[record.WingWidthLeft], 1e-9)
	assert.InDelta(t, 1, v[record.CompletenessLeft], 1e-9)
	assert.InDelta(t, 0.8, v[record.InsulationGapMean], 1e-9)
	assert.Zero(t, v[record.MissingLengthMax])
	for _, k := range record.Keys(record.Seam) {
		assert.Contains(t, v, k)
	}
}

func TestMirroredSleeveSwapsLeftAndRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Random(int64(rapid.IntRange(1, 1_000_000).Draw(t, "seed"))).Part
		a.Sleeve.SeamWanderMM = 0
		a.Sleeve.Notches = []Notch{{Left: true, AtMM: 3, LengthMM: 1.2, DepthMM: 0.5}}
		b := a
		b.Sleeve.SeamOffsetMM, b.Sleeve.SeamSlopeDeg = -a.Sleeve.SeamOffsetMM, -a.Sleeve.SeamSlopeDeg
		b.Sleeve.Notches = []Notch{{Left: false, AtMM: 3, LengthMM: 1.2, DepthMM: 0.5}}
		v, w := map[record.Key]float64{}, map[record.Key]float64{}
		for g, m := range map[*geometry]map[record.Key]float64{a.geometry(1): v, b.geometry(1): w} {
			g.seamTruth(m)
			g.wingTruth(m)
		}
		assert.InDelta(t, v[record.WingWidthLeft], w[record.WingWidthRight], 1e-9)
		assert.InDelta(t, v[record.CompletenessRight], w[record.CompletenessLeft], 1e-9)
		assert.InDelta(t, v[record.SeamOffset], -w[record.SeamOffset], 1e-9)
		for _, k := range []record.Key{record.Symmetry, record.SeamAngle, record.MissingDepthMax, record.MissingLengthMax, record.SleeveWidth} {
			assert.InDelta(t, v[k], w[k], 1e-9, string(k))
		}
	})
}

// A notch with steep sides: what is missing follows from its own size.
func TestNotchIsMissing(t *testing.T) {
	s := plain()
	s.Part.Sleeve.Notches = []Notch{{Left: true, AtMM: 3, LengthMM: 1.4, DepthMM: 0.5}}
	v := s.Truth().Values
	assert.InDelta(t, 0.5, v[record.MissingDepthMax], 0.07, "rough by up to 12 %")
	assert.InDelta(t, 1.3, v[record.MissingLengthMax], 0.07)
	assert.InDelta(t, 1-v[record.MissingLengthMax]/7, v[record.CompletenessLeft], 0.01)
	assert.InDelta(t, 1, v[record.CompletenessRight], 1e-9)
	assert.InDelta(t, 0.2+v[record.MissingDepthMax], v[record.SeamOpeningMax], 0.005)
}

func TestObliqueCutWidensTheGap(t *testing.T) {
	s := plain()
	s.Part.Wire.CutSkewDeg = 5
	v := s.Truth().Values
	assert.InDelta(t, 0.8, v[record.InsulationGapMean], 1e-6)
	// 95 % of the middle 80 % of the width: 0.9 · 0.8 · radius from the middle.
	want := 0.8 + 0.9*0.8*s.Part.geometry(1).conductor*math.Tan(radians(5))
	assert.InDelta(t, want, v[record.InsulationGapMax], 0.002)
}

func TestStrayIsAsLongAsItsCurve(t *testing.T) {
	c := curve{radius: 0.15}
	for i := range 101 {
		a := math.Pi / 2 * float64(i) / 100
		c.points = append(c.points, vec{3 * math.Cos(a), 3 * math.Sin(a), 0})
	}
	assert.InDelta(t, 3*math.Pi/2+0.15, c.length(), 1e-3)
	s := plain()
	s.Part.Strays = []Stray{{Left: true, RootDeg: 50, ReachMM: 2, AlongMM: 2, TipHeight: 0, DiameterMM: 0.3}}
	v := s.Truth().Values
	assert.EqualValues(t, 1, v[record.StrayCount])
	assert.Greater(t, v[record.StrayLongest], 3.0)
}

// Lens: a point projected and seen again lies on its ray, tilt, spin and distortion included.
func TestRaysAndProjectionAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		c := Camera{f("distance", 100, 300), f("tilt", 0, 25), f("azimuth", 0, 360), f("spin", -180, 180), [2]float64{f("ax", -9, 9), 2}, 5000, f("k1", -0.05, 0.05)}
		l := c.lens(2000, 1500)
		x, y := f("x", 0, 1999), f("y", 0, 1499)
		u, v := l.project(l.at.add(l.ray(x, y).mul(150)))
		assert.InDelta(t, x, u, 1e-6)
		assert.InDelta(t, y, v, 1e-6)
		aim, _ := l.project(vec{c.AimMM[0], c.AimMM[1], 0})
		assert.InDelta(t, 999.5, aim, 1e-6)
	})
}

func TestSameSeedSamePicture(t *testing.T) {
	sum := func(seed int64) uint64 {
		s := Random(seed)
		s.Width, s.Height = 160, 120
		s.Camera.FocalPX *= 0.08
		img, _ := s.Render()
		h := fnv.New64a()
		_, _ = h.Write(img.Pix)
		return h.Sum64()
	}
	assert.Equal(t, sum(5), sum(5))
	assert.NotEqual(t, sum(5), sum(6))
	assert.Equal(t, Random(5), Random(5))
}

// No colour may come out as no number, whatever face is looked at.
func TestEveryRayGivesAColour(t *testing.T) {
	for _, seed := range []int64{1, 16, 30, 51} {
		r := Random(seed).renderer()
		for y := 0.0; y < 1500; y += 9.7 {
			for x := 0.0; x < 2000; x += 9.7 {
				c, what := r.sample(x, y)
				require.False(t, math.IsNaN(c.X+c.Y+c.Z) || c.X < 0, "seed %d, pixel %v %v, %v", seed, x, y, what)
			}
		}
	}
	p := plain().renderer()
	for _, n := range []vec{{1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, 0, 1}} {
		c := p.reflect(p.part, vec{7, 1, 0.5}, n, vec{0, 0, -1}, finish{gloss: vec{0.6, 0.6, 0.6}, along: vec{1, 0, 0}, a: 0.3, b: 0.2})
		assert.False(t, math.IsNaN(c.X))
	}
}

// The demo's truth files say what the demo's scenes say. After a change of either: go run ./internal/drawn/cmd/draw -demo
func TestDemoTruthIsUpToDate(t *testing.T) {
	for _, s := range Demo() {
		text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "drawn", s.Name+".json"))
		require.NoError(t, err)
		file := truthFile{}
		require.NoError(t, json.Unmarshal(text, &file))
		require.NoError(t, err)
		for k, v := range s.Scene.Truth().Values {
			assert.InDelta(t, v, file.Truth[k], 1e-9, "%s %s", s.Name, k)
		}
		info, err := os.Stat(filepath.Join("..", "..", "samples", s.Name+".jpg"))
		require.NoError(t, err)
		assert.Less(t, info.Size(), int64(450_000))
	}
}

func TestGoldenTruthOfSeed1(t *testing.T) {
	path := filepath.Join("testdata", "seed1.json")
	got := Random(1).Truth().Values
	if os.Getenv("UPDATE_GOLDEN") != "" {
		text, err := json.MarshalIndent(got, "", "  ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, append(text, '\n'), 0o644))
	}
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	want := map[record.Key]float64{}
	require.NoError(t, json.Unmarshal(text, &want))
	assert.Len(t, got, len(want))
	for k, v := range want {
		assert.InDelta(t, v, got[k], 1e-9, string(k))
	}
}

func TestWriteSaysWhereItCannotWrite(t *testing.T) {
	s := plain()
	s.Width, s.Height = 40, 30
	folder := t.TempDir()
	require.NoError(t, s.Write(filepath.Join(folder, "a.jpg"), filepath.Join(folder, "a.json")))
	text, err := os.ReadFile(filepath.Join(folder, "a.json"))
	require.NoError(t, err)
	back := truthFile{}
	require.NoError(t, json.Unmarshal(text, &back))
	assert.Equal(t, s.Truth().Values, back.Truth)
	assert.Equal(t, "a.jpg", back.Image)
	assert.Error(t, s.Write(filepath.Join(folder, "none", "a.jpg"), filepath.Join(folder, "a.json")))
}
