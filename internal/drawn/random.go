package drawn

import (
	"math"
	"math/rand/v2"
)

// dice draws plausible values.
type dice struct{ *rand.Rand }

func (d dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }
func (d dice) sign() float64                  { return float64(1 - 2*d.IntN(2)) }
func (d dice) chance(p float64) bool          { return d.Float64() < p }
func (d dice) one(of ...string) string        { return of[d.IntN(len(of))] }

// Random gives a varied, plausible scene of 2000 x 1500 pixels; the same seed always gives the same scene. Some scenes
// have one or two defects, named in Defects.
func Random(seed int64) Scene {
	d := dice{rand.New(rand.NewPCG(uint64(seed), 1))}
	s := Scene{Seed: seed, Width: 2000, Height: 1500}
	s.Part = d.part()
	s.damage(d)
	s.Ground = d.ground()
	s.Light = Light{Kind: d.one("sun", "flash", "led", "softbox", "overcast", "mixed"), AzimuthDeg: d.between(0, 360), ElevationDeg: d.between(38, 68),
		Warmth: d.between(-0.8, 0.8), Exposure: d.between(-0.3, 0.3)}
	s.Sensor = Sensor{DefocusPX: d.between(0.45, 1), Noise: d.between(0.006, 0.035), Sharpen: d.between(0, 0.7), Vignette: d.between(0.03, 0.2),
		Quality: 82 + d.IntN(15), MotionDeg: d.between(0, 180)}
	if d.chance(0.4) {
		s.Sensor.MotionPX = d.between(0.3, 1.4)
	}
	s.compose(d)
	return s
}

// wires are common sizes of fine-stranded wire: nominal area, number and diameter of strands. Common practice, no source.
var wires = []struct {
	area     float64
	strands  int
	diameter float64
}{{2.5, 50, 0.25}, {4, 56, 0.3}, {6, 84, 0.3}, {10, 80, 0.4}}

var coats = [][3]float64{{0.03, 0.03, 0.032}, {0.03, 0.03, 0.032}, {0.45, 0.03, 0.03}, {0.03, 0.06, 0.3}, {0.55, 0.4, 0.03}, {0.04, 0.2, 0.06}}

func (d dice) part() Part {
	w := wires[d.IntN(len(wires))]
	p := Part{Metal: d.one("tin", "tin", "brass", "silver", "copper"), RollDeg: clamp(1.6*d.NormFloat64(), -5, 5), PitchDeg: d.between(-0.5, 1.5)}
	p.Wire = Wire{AreaMM2: w.area, Strands: w.strands, StrandDiameterMM: w.diameter, StrandMetal: d.one("tin", "tin", "copper"),
		InsulationDiameterMM: d.between(4.9, 5.6) + w.area*0.13, Colour: coats[d.IntN(len(coats))], LayMM: d.sign() * d.between(22, 40),
		GapMM: d.between(0.25, 0.95), CutSkewDeg: 1.6 * d.NormFloat64(), CutLeanDeg: 1.2 * d.NormFloat64(), CutRippleMM: d.between(0.005, 0.05)}
	if d.chance(0.6) {
		p.Wire.CurveMM = d.sign() * d.between(60, 400)
	}
	bundle := w.diameter * math.Sqrt(float64(w.strands)/0.75)
	wide := 0.6*bundle + d.between(2.2, 2.6)
	p.Sleeve = Sleeve{LengthMM: d.between(5.4, 7.9), WidthMM: wide, HeightMM: wide * d.between(0.68, 0.78), SheetMM: d.between(0.6, 0.75),
		HumpRound: d.between(0.7, 0.98), SeamOffsetMM: 0.05 * d.NormFloat64(), SeamSlopeDeg: 0.25 * d.NormFloat64(),
		SeamWanderMM: d.between(0.003, 0.015), OpeningMM: d.between(0.01, 0.05), OpeningFrontMM: d.between(0.01, 0.05),
		BellmouthMM: d.between(0.4, 1), BellmouthFlareMM: d.between(0.1, 0.26)}
	p.Body = Body{Socket: d.chance(0.5), NeckMM: d.between(1.8, 3), RadiusMM: wide/2 - d.between(0.05, 0.35), LengthMM: d.between(10, 15), BendDeg: 0.7 * d.NormFloat64()}
	p.Brush = Brush{d.between(0.25, 1.3), d.between(0.08, 0.3)}
	p.AxisMM = max(p.Wire.InsulationDiameterMM/2+d.between(0, 0.4), p.Sleeve.HeightMM/2+0.3)
	return p
}

// damage builds in what goes wrong at the bench.
func (s *Scene) damage(d dice) {
	p := &s.Part
	if d.chance(0.25) {
		p.Strays = append(p.Strays, d.stray(*p))
		s.Defects = append(s.Defects, "stray")
	}
	switch d.IntN(9) {
	case 0:
		p.Wire.GapMM = d.between(1.3, 2.6)
		s.Defects = append(s.Defects, "gap too large")
	case 1:
		n := d.between(0.8, 1.8)
		p.Sleeve.Notches = []Notch{{d.chance(0.5), d.between(n/2+0.3, p.Sleeve.LengthMM-n/2-0.3), n, d.between(0.35, 0.7)}}
		s.Defects = append(s.Defects, "notch")
	case 2:
		p.Sleeve.SeamOffsetMM = d.sign() * d.between(0.15, 0.35)
		s.Defects = append(s.Defects, "unequal wings")
	case 3:
		p.Sleeve.SeamSlopeDeg = d.sign() * d.between(1.5, 3)
		s.Defects = append(s.Defects, "seam askew")
	case 4:
		p.Body.BendDeg = d.sign() * d.between(3, 8)
		s.Defects = append(s.Defects, "bend")
	case 5:
		p.Brush.MeanMM = d.between(1.5, 2)
		p.Body.NeckMM = max(p.Body.NeckMM, 2.6)
		s.Defects = append(s.Defects, "brush too long")
	}
}

func (d dice) stray(p Part) Stray {
	return Stray{Front: d.chance(0.3), Left: d.chance(0.5), Back: d.chance(0.4), RootDeg: d.between(25, 70), ReachMM: d.between(0.9, 2.6),
		AlongMM: d.between(0.8, 3.5), TipHeight: d.between(-1.2, 0.8), DiameterMM: p.Wire.StrandDiameterMM}
}

func (d dice) ground() Ground {
	light := func(c ...float64) Ground {
		k := d.between(0.9, 1.05)
		return Ground{Kind: "card", Colour: [3]float64{c[0] * k, c[1] * k, c[2] * k}}
	}
	switch d.IntN(8) {
	case 0, 1:
		return light(0.84, 0.84, 0.82)
	case 2:
		return light(0.4, 0.41, 0.42)
	case 3:
		return light(0.62, 0.55, 0.4)
	case 4:
		return Ground{Kind: "mat", Colour: [][3]float64{{0.07, 0.075, 0.08}, {0.03, 0.12, 0.09}, {0.05, 0.09, 0.2}}[d.IntN(3)]}
	case 5:
		return Ground{Kind: "cloth", Colour: [3]float64{d.between(0.08, 0.4), d.between(0.1, 0.3), d.between(0.12, 0.35)}}
	case 6:
		return Ground{Kind: "concrete", Colour: [3]float64{0.3, 0.3, 0.29}}
	}
	return Ground{Kind: "wood", Colour: [3]float64{0.45, 0.29, 0.16}}
}

// compose lays part and board on the ground and holds the camera over them, until all that must be seen is in the
// picture and nothing lies on anything else.
func (s *Scene) compose(d dice) {
	boards := [][2]int{{4, 3}, {5, 4}, {6, 4}, {7, 5}, {8, 5}, {9, 6}, {9, 6}}
	for {
		n := boards[d.IntN(len(boards))]
		s.Board = Board{Cols: n[0], Rows: n[1], SquareMM: 5, MarginMM: d.between(3, 6), Ink: d.between(0.035, 0.07), Paper: d.between(0.78, 0.9)}
		if s.Ground.Kind != "card" || s.Ground.Colour[0] < 0.7 || d.chance(0.5) {
			s.Board.HeightMM = d.between(0.08, 0.3)
		}
		scale, distance := d.between(17, 28), d.between(130, 260)
		s.Camera = Camera{DistanceMM: distance, TiltDeg: math.Abs(5 * d.NormFloat64()), AzimuthDeg: d.between(0, 360), SpinDeg: d.between(-180, 180),
			FocalPX: scale * distance, K1: d.between(-0.03, 0.03)}
		s.Camera.TiltDeg = min(s.Camera.TiltDeg, 15)
		s.Board.CentreMM = [2]float64{d.between(-30, 30), d.between(-22, 22)}
		s.Part.CentreMM = [2]float64{d.between(-32, 32), d.between(-25, 25)}
		s.Part.AlphaDeg = d.between(0, 360)
		s.Board.TurnDeg = s.Part.AlphaDeg + 90*float64(d.IntN(4)) + 5*d.NormFloat64()
		if s.fits() {
			return
		}
	}
}

// fits tells whether board and part are in the picture and apart from each other.
func (s *Scene) fits() bool {
	l, g := s.Camera.lens(s.Width, s.Height), s.Part.geometry(s.Seed)
	r := renderer{scene: *s}
	r.boardSin, r.boardCos = math.Sincos(radians(s.Board.TurnDeg))
	inside := func(w vec, margin float64) bool {
		x, y := l.project(w)
		return x > margin && y > margin && x < float64(s.Width)-margin && y < float64(s.Height)-margin
	}
	w, h := s.Board.size()
	for _, k := range [4][2]float64{{-1, -1}, {-1, 1}, {1, -1}, {1, 1}} {
		u, v := k[0]*(w/2-s.Board.MarginMM), k[1]*(h/2-s.Board.MarginMM)
		if !inside(vec{s.Board.CentreMM[0] + r.boardCos*u - r.boardSin*v, s.Board.CentreMM[1] + r.boardSin*u + r.boardCos*v, 0}, 25) {
			return false
		}
	}
	front := g.Sleeve.LengthMM + g.Body.NeckMM + g.Body.LengthMM + 1
	for _, y := range [3]float64{-8, 0, 8} {
		for x := -80.0; x <= front; x += 1.5 {
			p := g.origin.add(g.pose.out(vec{x, g.wireAxis(x) + y, 0}))
			if _, _, on := r.onPaper(p); on && !s.Board.None {
				return false
			}
			if x > -8 && y == 0 && !inside(p, 60) {
				return false
			}
		}
	}
	return true
}

// wireAxis is the y of the wire's axis at x.
func (g *geometry) wireAxis(x float64) float64 {
	c := g.Wire.CurveMM
	if c == 0 || x > -straightWire {
		return 0
	}
	u := x + straightWire
	if math.Abs(u) >= math.Abs(c) {
		return c
	}
	return c - math.Copysign(math.Sqrt(c*c-u*u), c)
}
