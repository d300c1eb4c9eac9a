package section

import "math"

// Sample is a scene of the demo under the name of its picture, without the ending.
type Sample struct {
	Name  string
	Scene Scene
}

// Demo gives the demo's micrographs: crimps of 4 mm² wire (56 x 0.30 mm) from the apprentice workshop of an invented solar
// canopy, cut, ground and etched.
func Demo() []Sample {
	return []Sample{
		{"workshop-crew-A-section-01", goodSection()},
		{"workshop-crew-A-section-02", overPressed()},
		{"workshop-trainee-3-section-01", openWings()},
		{"workshop-trainee-3-section-02", burrsAndThinFloor()},
		{"workshop-trainee-3-section-03", lostStrands()},
	}
}

// workshop is what all demo micrographs share: press, wire, microscope.
func workshop(seed int64) Scene {
	s := Scene{Seed: seed, Width: 1600, Height: 1200, MMPerPX: 0.0034, Format: Format{Kind: "jpg", Quality: 88, Bits: 8}}
	h := Half{LeanDeg: 0.6, WallMM: 0.62, RoofMM: 0.6, CornerMM: 0.42, InnerMM: 0.11, HeightMM: 2.86, TopAt: 0.5, ShoulderMM: 1.75, OuterExp: 2.2, SeamExp: 2,
		SeamTopMM: 2.32, CurlFromMM: 1.72, CurlPerMM: 0.55, CurlDeg: 30, WingMM: 0.42, SheetMM: 0.62, TipSheetMM: 0.5, Tip: Tip{0.2, 2.2, 1},
		RoofRoundMM: 0.14}
	s.Sleeve = Sleeve{WidthMM: 4.05, SeamMM: 0.02, FloorMM: 0.6, FloorRiseMM: 0.02, SeamBendMM: 0.015, RoughMM: 0.006, RoughSizeMM: 0.2, RoughSeed: uint64(seed),
		Left: h, Right: h}
	s.Sleeve.Left.HeightMM, s.Sleeve.Left.CurlFromMM, s.Sleeve.Left.TopAt = 2.83, 1.75, 0.52
	s.Fill = Fill{Strands: 56, Relax: 12, Uneven: 0.05, CornerMM: 0.02, WavyMM: 0.006}
	s.Look = Look{Resin: [3]float64{0.16, 0.17, 0.2}, Sleeve: [3]float64{0.86, 0.77, 0.6}, Strand: [3]float64{0.8, 0.52, 0.4}, Void: [3]float64{0.07, 0.06, 0.06},
		Tin: [3]float64{0.9, 0.9, 0.88}, GrainMM: 0.022, GrainTone: 0.045, GrainLine: 0.05, GrainAspect: 1.5, GrainDeg: 20, Twins: 0.25, StrandGrain: 0.8,
		Etch: 1.1, GrooveMM: 0.0035, GrooveDark: 0.85, GrooveFaint: 0.05, RoundMM: 0.005, RoundDark: 0.35, ShadowDark: 0.3, SeamMM: 0.005,
		SeamDark: 0.9, PlatingMM: 0.005, TinnedMM: 0.003, StrandTone: 0.04, StrandRelief: 0.03, Clouds: 0.06, Scratches: 14, ScratchBy: 0.5, Pits: 60,
		PitMM: 0.002, Dust: 2, Bubbles: 1}
	s.Optics = Optics{BlurPX: 0.8, Tilt: [2]float64{0.05, -0.03}, Vignette: 0.1, Exposure: 0.98, Gamma: 1, Flare: 0.01, ShotNoise: 0.006, ReadNoise: 0.003, Sharpen: 0.2}
	s.Scale = Scale{BarUM: 1000, ThickPX: 9, TextPX: 32, Text: "1 mm"}
	return s
}

// press sets the width of the tool so that the wire's metal area is squeezed by the given share.
func (s Scene) press(compaction float64) Scene {
	const wire, diameter = 56, 0.3
	s.Declared = Declared{ConductorAreaMM2: math.Round(1e4*wire*math.Pi*diameter*diameter/4) / 1e4, StrandCount: wire, StrandDiameterMM: diameter, SheetMM: 0.62}
	s.Fill.Lost = wire - s.Fill.Strands
	s.Fill.Compaction = compaction
	want := float64(s.Fill.Strands) * math.Pi * diameter * diameter / 4 * (1 - compaction)
	for range 2 {
		g := s.build()
		full := g.ConductorArea() / g.CavityArea()
		for range 8 {
			// The cavity grows with width and height, the sheet stays as it is.
			k := math.Sqrt(want / (full * s.Sleeve.build().CavityArea()))
			s.Sleeve.WidthMM *= 1 + 0.45*(k-1)
			for _, h := range []*Half{&s.Sleeve.Left, &s.Sleeve.Right} {
				grow := 0.45 * (k - 1) * h.HeightMM
				h.HeightMM, h.ShoulderMM, h.SeamTopMM, h.CurlFromMM = h.HeightMM+grow, h.ShoulderMM+grow, h.SeamTopMM+grow, h.CurlFromMM+grow
			}
		}
	}
	return s
}

func goodSection() Scene { return workshop(71).press(0.17) }

func overPressed() Scene {
	s := workshop(72)
	s.Fill.CornerMM, s.Look.GrooveFaint, s.Look.GrooveDark = 0.008, 0.4, 0.7
	s.TurnDeg, s.Format.Grey = 3, true
	s.Defects = []string{"over_compaction"}
	return s.press(0.28)
}

func openWings() Scene {
	s := workshop(73)
	s.Sleeve.OpeningMM, s.Sleeve.GapAboveMM, s.Sleeve.ContactTopMM = 0.16, 0.06, 1.7
	s.Fill.Round, s.Fill.Hollows, s.Fill.CornerMM = 1.02, 4, 0.03
	s.TurnDeg, s.MMPerPX, s.ShiftPX = -6, 0.0037, [2]float64{-60, -20}
	s.Look.Resin, s.Look.Bubbles = [3]float64{0.34, 0.31, 0.24}, 3
	s.Scale.Boxed, s.Scale.Dark = true, true
	s.Defects = []string{"open_wings", "under_compaction"}
	return s.press(0.04)
}

func burrsAndThinFloor() Scene {
	s := workshop(74)
	s.Sleeve.FloorMM = 0.38
	s.Sleeve.Left.Burr = &Burr{HeightMM: 0.2, WidthMM: 0.1, FootMM: 0.24, Blunt: 0.4}
	s.Sleeve.Right.Burr = &Burr{HeightMM: 0.26, WidthMM: 0.05, FootMM: 0.24, Blunt: 0.4}
	s.TurnDeg = 91.5
	s.Scale.Corner = 1
	s.Defects = []string{"burrs", "thin_floor"}
	return s.press(0.2)
}

func lostStrands() Scene {
	s := workshop(75)
	s.Fill.Strands = 54
	s.TurnDeg, s.Mirrored = 178, true
	s.Look.Sleeve, s.Look.PlatingMM = [3]float64{0.84, 0.6, 0.48}, 0
	s.Scale.Corner, s.Scale.Ticks = 2, true
	s.Defects = []string{"missing_strands"}
	return s.press(0.15)
}
