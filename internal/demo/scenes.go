package demo

import (
	"crimprule/internal/drawn"
	"crimprule/samples"
	"crimprule/vision/record"
)

// on is a light and a ground, by which photos of one bench are known.
type on struct {
	ground drawn.Ground
	light  drawn.Light
}

var (
	roof  = on{drawn.Ground{Kind: "card", Colour: [3]float64{0.4, 0.42, 0.43}}, drawn.Light{Kind: "overcast", AzimuthDeg: 40, ElevationDeg: 62}}
	tent  = on{drawn.Ground{Kind: "card", Colour: [3]float64{0.12, 0.2, 0.3}}, drawn.Light{Kind: "overcast", AzimuthDeg: 120, ElevationDeg: 60, Warmth: 0.2}}
	bench = on{drawn.Ground{Kind: "mat", Colour: [3]float64{0.08, 0.26, 0.2}}, drawn.Light{Kind: "softbox", AzimuthDeg: 85, ElevationDeg: 62, Warmth: -0.2}}
)

// seam is a sound crimp seen onto its seam, straight under the camera: a small board beside it. Every photo differs a
// little in pose, strands and light, by its seed.
func seam(seed int64, where on) drawn.Scene {
	s := drawn.Canopy(seed)
	turn := func(n int64) float64 { return float64((seed*n)%7-3) / 3 } // -1..1
	s.Camera = drawn.Camera{DistanceMM: 230, TiltDeg: 1 + 0.5*turn(3), AzimuthDeg: float64(seed * 70 % 360), SpinDeg: 2 * turn(5), FocalPX: 7670, K1: 0.008}
	s.Board = drawn.Board{Cols: 4, Rows: 3, SquareMM: 5, CentreMM: [2]float64{-13, 0.5 * turn(2)}, TurnDeg: 1.5 * turn(4), MarginMM: 3, HeightMM: 0.12, Ink: 0.045, Paper: 0.86}
	s.Ground, s.Light = where.ground, where.light
	s.Sensor.Noise = 0.006
	p := &s.Part
	p.CentreMM, p.AlphaDeg, p.RollDeg = [2]float64{8 + 0.5*turn(6), -4 + 0.5*turn(5)}, 91+1.5*turn(3), 0.4*turn(2)
	p.Wire.CurveMM, p.Wire.GapMM = 400, 0.5+0.06*turn(4)
	p.Sleeve.SeamOffsetMM, p.Sleeve.SeamSlopeDeg = 0.02*turn(5), 0.15*turn(6)
	p.Brush.MeanMM = 0.75 + 0.1*turn(3)
	p.Body.BendDeg, p.Body.Socket = 0.4*turn(2), seed%2 == 0
	if seed%3 == 0 {
		p.Wire.Colour = [3]float64{0.4, 0.03, 0.03}
	}
	return s
}

// aside is the same crimp laid on its side, beside a steel rule.
func aside(s drawn.Scene) drawn.Scene {
	s.View = record.Side
	s.Board = drawn.Board{None: true}
	s.Rule = &drawn.Rule{CentreMM: [2]float64{-8, -13}, TurnDeg: 1.2, LengthMM: 156, WidthMM: 15, ThickMM: 0.6, MarginMM: 2, TickMM: 0.16, DigitMM: 2.6,
		Steel: 0.6, Ink: 0.03, Satin: true}
	p := &s.Part
	p.CentreMM, p.AlphaDeg = [2]float64{-3, 5}, 3
	p.RollDeg, p.AxisMM, p.Wire.CurveUp, p.Wire.CurveMM = 90.8, 3.1, true, -160
	return s
}

// stripped is a wire before it is crimped.
func stripped(s drawn.Scene) drawn.Scene {
	s.View = record.Strip
	p := &s.Part
	p.Sleeve, p.Body, p.Brush = drawn.Sleeve{SheetMM: p.Sleeve.SheetMM}, drawn.Body{}, drawn.Brush{}
	p.RollDeg, p.Wire.GapMM, p.Wire.LayMM, p.Wire.CurveMM, p.Wire.CutSkewDeg = 0, 0, 45, 200, 0.5
	p.Strip = &drawn.Strip{LengthMM: 8, SpreadMM: 0.2, Splay: 1.06, Ruffled: 0.03}
	return s
}

// The faults of the site, each as it comes about in practice.
type fault func(*drawn.Part)

func gap(mm float64) fault        { return func(p *drawn.Part) { p.Wire.GapMM = mm } }
func brush(mm float64) fault      { return func(p *drawn.Part) { p.Brush.MeanMM = mm } }
func seamOffset(mm float64) fault { return func(p *drawn.Part) { p.Sleeve.SeamOffsetMM = mm } }
func bend(deg float64) fault      { return func(p *drawn.Part) { p.Body.BendDeg = deg } }
func pieceMissing(p *drawn.Part) {
	p.Sleeve.Notches = []drawn.Notch{{AtMM: 3.7, LengthMM: 1.5, DepthMM: 0.6}}
}
func strayStrand(p *drawn.Part) {
	p.Strays = []drawn.Stray{{Left: true, RootDeg: 50, ReachMM: 1.9, AlongMM: 2.6, TipHeight: -0.4, DiameterMM: 0.3}}
}

// worn is what a die does whose halves have moved against each other: after n crimps the seam stands off the middle.
func worn(n int) fault { return seamOffset(0.02 + 0.045*float64(n-1)) }

// twoCrimps lays a second crimp beside the first, so that nobody can tell which is meant.
func twoCrimps(s drawn.Scene) drawn.Scene {
	second := s.Part
	second.CentreMM, second.AlphaDeg = [2]float64{20, -3}, 90
	s.Second = &second
	return s
}

// photo is a photo's scene as it is written.
func photo(s drawn.Scene, width int) drawing {
	return func() ([]byte, error) {
		img, _ := s.Wide(width).Render()
		return jpegOf(img, s.Sensor.Quality)
	}
}

// micrograph is one of the demo sections.
func micrograph(name string) drawing {
	return func() ([]byte, error) { return samples.Sections.ReadFile("sections/" + name + ".jpg") }
}
