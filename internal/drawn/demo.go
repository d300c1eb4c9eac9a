package drawn

import "crimprule/vision/record"

// Sample is a scene of the demo under the name of its picture, without the ending.
type Sample struct {
	Name  string
	Scene Scene
}

// Demo gives the demo's pictures: crimps of 4 mm² wire from the solar canopy of an invented ferry terminal and from its
// apprentice workshop.
func Demo() []Sample {
	return []Sample{
		{"canopy-north-string-03-crimp-01", goodCrimp()},
		{"canopy-north-string-03-crimp-02", wideGap()},
		{"canopy-south-string-07-crimp-04", strayStrand()},
		{"workshop-trainee-3-crimp-01", pieceMissing()},
		{"workshop-trainee-3-crimp-02", unequalWings()},
		{"canopy-north-string-03-crimp-01-side", goodCrimpFromTheSide()},
		{"canopy-south-string-07-crimp-05", besideADisc()},
		{"workshop-trainee-3-crimp-03", twoParts()},
		{"workshop-trainee-3-strip-01", obliqueCut()},
	}
}

// Canopy is what all demo pictures share: the wire, the contact and the inspector's camera on its stand.
func Canopy(seed int64) Scene {
	s := Scene{Seed: seed, Width: 2000, Height: 1500}
	s.Camera = Camera{DistanceMM: 190, TiltDeg: 2, AzimuthDeg: 250, SpinDeg: 2, FocalPX: 4500, K1: 0.012}
	s.Ground = Ground{Kind: "card", Colour: [3]float64{0.82, 0.82, 0.8}}
	s.Board = Board{Cols: 7, Rows: 5, SquareMM: 5, CentreMM: [2]float64{-15.5, -3}, TurnDeg: 1.5, MarginMM: 4, HeightMM: 0.12, Ink: 0.045, Paper: 0.86}
	s.Light = Light{Kind: "led", AzimuthDeg: 120, ElevationDeg: 55, Warmth: 0.1}
	s.Sensor = Sensor{DefocusPX: 0.6, Noise: 0.01, Sharpen: 0.35, Vignette: 0.08, Quality: 90}
	s.Part = Part{CentreMM: [2]float64{17, -3}, AlphaDeg: 92, AxisMM: 3.15, RollDeg: 0.6, PitchDeg: 0.5, Metal: "tin",
		Wire: Wire{InsulationDiameterMM: 5.9, Colour: [3]float64{0.03, 0.03, 0.032}, CurveMM: -160, AreaMM2: 4, Strands: 56,
			StrandDiameterMM: 0.3, StrandMetal: "copper", LayMM: 28, GapMM: 0.55, CutSkewDeg: 0.6, CutLeanDeg: -0.4, CutRippleMM: 0.02},
		Sleeve: Sleeve{LengthMM: 6.6, WidthMM: 4.05, HeightMM: 2.95, SheetMM: 0.66, HumpRound: 0.88, SeamOffsetMM: 0.03,
			SeamSlopeDeg: 0.2, SeamWanderMM: 0.01, OpeningMM: 0.02, OpeningFrontMM: 0.03, BellmouthMM: 0.7, BellmouthFlareMM: 0.19},
		Body:  Body{NeckMM: 2.4, RadiusMM: 1.9, LengthMM: 12, BendDeg: 0.5},
		Brush: Brush{0.7, 0.2}}
	return s
}

func goodCrimp() Scene { return Canopy(41) }

func wideGap() Scene {
	s := Canopy(42)
	s.Part.Wire.GapMM, s.Part.AlphaDeg, s.Part.Wire.CurveMM = 2.1, 88, 500
	s.Part.Wire.Colour = [3]float64{0.4, 0.03, 0.03}
	s.Part.Body.Socket = true
	s.Camera.SpinDeg, s.Light.AzimuthDeg = -3, 60
	s.Defects = []string{"gap too large"}
	return s
}

func strayStrand() Scene {
	s := Canopy(43)
	s.Ground = Ground{Kind: "card", Colour: [3]float64{0.42, 0.43, 0.44}}
	s.Light = Light{Kind: "sun", AzimuthDeg: 200, ElevationDeg: 52}
	s.Part.AlphaDeg, s.Part.Body.Socket = 95, true
	s.Part.Wire.GapMM, s.Part.Sleeve.SeamOffsetMM = 0.7, -0.04
	s.Part.Strays = []Stray{{Left: true, RootDeg: 50, ReachMM: 1.9, AlongMM: 2.6, TipHeight: -0.4, DiameterMM: 0.3}}
	s.Defects = []string{"stray"}
	return s
}

func pieceMissing() Scene {
	s := Canopy(44)
	s.Ground = Ground{Kind: "mat", Colour: [3]float64{0.03, 0.12, 0.09}}
	s.Light = Light{Kind: "softbox", AzimuthDeg: 30, ElevationDeg: 60, Warmth: -0.2}
	s.Part.Metal, s.Part.Wire.StrandMetal = "brass", "tin"
	s.Part.Wire.CurveMM = 0
	s.Part.Sleeve.Notches = []Notch{{Left: false, AtMM: 3.7, LengthMM: 1.4, DepthMM: 0.55}}
	s.Defects = []string{"notch"}
	return s
}

func unequalWings() Scene {
	s := Canopy(45)
	s.Ground = Ground{Kind: "mat", Colour: [3]float64{0.06, 0.065, 0.07}}
	s.Light = Light{Kind: "mixed", AzimuthDeg: 160, ElevationDeg: 58, Warmth: 0.3}
	s.Part.Wire.Colour = [3]float64{0.03, 0.06, 0.3}
	s.Part.AlphaDeg, s.Camera.SpinDeg = 88, 4
	s.Part.Sleeve.SeamOffsetMM, s.Part.Sleeve.SeamSlopeDeg = 0.34, -0.8
	s.Defects = []string{"unequal wings", "seam offset"}
	return s
}

// goodCrimpFromTheSide is goodCrimp's part laid on its side, with a steel rule instead of the board.
func goodCrimpFromTheSide() Scene {
	s := goodCrimp()
	s.View = record.Side
	s.Board = Board{None: true}
	s.Rule = &Rule{CentreMM: [2]float64{-8, -17}, TurnDeg: 1.2, LengthMM: 156, WidthMM: 15, ThickMM: 0.6, MarginMM: 2, TickMM: 0.14, DigitMM: 2.6,
		Steel: 0.6, Ink: 0.03, Satin: true}
	s.Ground = Ground{Kind: "card", Colour: [3]float64{0.08, 0.2, 0.16}}
	s.Light = Light{Kind: "softbox", AzimuthDeg: 70, ElevationDeg: 58}
	p := &s.Part
	p.CentreMM, p.AlphaDeg = [2]float64{-3, 5}, 3
	p.RollDeg, p.AxisMM, p.Wire.CurveUp = 90.8, 3.1, true
	return s
}

func besideADisc() Scene {
	s := Canopy(46)
	s.Board = Board{None: true}
	s.Disc = &Disc{CentreMM: [2]float64{-8, -2}, DiameterMM: 20, ThickMM: 1.5, BevelMM: 0.1, Colour: [3]float64{0.8, 0.8, 0.78}}
	s.Ground = Ground{Kind: "card", Colour: [3]float64{0.09, 0.1, 0.12}}
	s.Light = Light{Kind: "overcast", AzimuthDeg: 40, ElevationDeg: 65}
	s.Part.CentreMM, s.Part.AlphaDeg, s.Part.Body.Socket = [2]float64{12, -2}, 90, true
	return s
}

// twoParts is a photo that must be refused: nobody can tell which of the two crimps is meant.
func twoParts() Scene {
	s := Canopy(47)
	s.Ground = Ground{Kind: "mat", Colour: [3]float64{0.06, 0.065, 0.07}}
	s.Light = Light{Kind: "softbox", AzimuthDeg: 40, ElevationDeg: 60}
	s.Part.CentreMM[0], s.Part.Wire.CurveMM = 13, 0
	s.Part.Wire.Colour = [3]float64{0.4, 0.03, 0.03}
	second := s.Part
	second.CentreMM, second.AlphaDeg = [2]float64{26, -1}, 90
	s.Second, s.ExpectRetake = &second, "two parts"
	return s
}

// obliqueCut is a stripped wire whose insulation was cut askew and whose strands were bent apart.
func obliqueCut() Scene {
	s := Canopy(48)
	s.View = record.Strip
	s.Ground = Ground{Kind: "mat", Colour: [3]float64{0.03, 0.12, 0.09}}
	s.Light = Light{Kind: "softbox", AzimuthDeg: 30, ElevationDeg: 60, Warmth: -0.2}
	p := &s.Part
	p.Sleeve, p.Body, p.Brush = Sleeve{SheetMM: p.Sleeve.SheetMM}, Body{}, Brush{}
	p.RollDeg, p.Wire.GapMM, p.Wire.LayMM, p.Wire.CurveMM, p.Wire.CutSkewDeg = 0, 0, 45, 200, 16
	p.Wire.Colour = [3]float64{0.4, 0.03, 0.03}
	p.Strip = &Strip{LengthMM: 8, SpreadMM: 0.3, Splay: 1.6, Ruffled: 0.05}
	s.Defects = []string{"oblique cut", "splay"}
	return s
}
