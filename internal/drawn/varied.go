package drawn

import (
	"math"
	"math/rand/v2"

	"crimprule/vision/record"
)

// Views are the views that Varied draws.
var Views = []record.View{record.Seam, record.Side, record.Strip}

// Varied gives a scene of that view with any scale reference, on any ground, under any light, with things lying about; the
// same seed and view always give the same scene. Random's scenes are the plain ones of old.
func Varied(seed int64, view record.View) Scene {
	d := dice{rand.New(rand.NewPCG(uint64(seed), 11))}
	s := Scene{Seed: seed, View: view, Width: 2000, Height: 1500}
	s.Part = d.part()
	s.Part.Wire.Colour = d.coat()
	s.Part.Matt, s.Part.Wire.StrandMatt = d.between(0.06, 0.4), d.between(0.04, 0.4)
	if d.chance(0.25) {
		s.Part.Wire.Print = [][3]float64{{0.8, 0.8, 0.78}, {0.6, 0.6, 0.58}, {0.02, 0.02, 0.02}}[d.IntN(3)]
	}
	if view != record.Strip && d.chance(0.15) {
		s.Part.Grip = &Grip{BackMM: d.between(0.3, 1.2), LengthMM: d.between(2, 4), OpeningMM: d.between(0.05, 1.6)}
		s.Part.AxisMM = s.Part.Wire.InsulationDiameterMM/2 + s.Part.Sleeve.SheetMM
	}
	switch view {
	case record.Side:
		s.layOnSide(d)
	case record.Strip:
		s.strip(d)
	default:
		s.damage(d)
	}
	s.Ground = d.anyGround()
	s.Light = d.anyLight()
	s.Sensor = Sensor{DefocusPX: d.between(0.45, 1.1), Noise: d.between(0.004, 0.04), Sharpen: d.between(0, 0.7), Vignette: d.between(0.03, 0.25),
		Quality: 80 + d.IntN(17), MotionDeg: d.between(0, 180)}
	if d.chance(0.4) {
		s.Sensor.MotionPX = d.between(0.3, 1.6)
	}
	s.arrange(d)
	s.tape(d)
	s.shadows(d)
	if d.chance(0.3) {
		s.layAbout(d)
	}
	return s
}

// thinWires are common sizes of fine-stranded wire inside devices. Common practice, no source.
var thinWires = []struct {
	area     float64
	strands  int
	diameter float64
}{{0.5, 16, 0.2}, {0.75, 24, 0.2}, {1, 32, 0.2}, {1.5, 30, 0.25}}

var moreCoats = [][3]float64{{0.7, 0.7, 0.68}, {0.2, 0.2, 0.21}, {0.16, 0.07, 0.03}, {0.6, 0.2, 0.03}, {0.1, 0.3, 0.55}, {0.3, 0.12, 0.4}}

func (d dice) coat() [3]float64 {
	if d.chance(0.6) {
		return coats[d.IntN(len(coats))]
	}
	return moreCoats[d.IntN(len(moreCoats))]
}

// layOnSide turns the part on one of its sides and builds in what can be seen from there.
func (s *Scene) layOnSide(d dice) {
	p := &s.Part
	p.RollDeg = d.sign() * (90 + clamp(2.2*d.NormFloat64(), -6, 6))
	p.AxisMM = max(p.AxisMM, p.Wire.InsulationDiameterMM/2, p.Body.RadiusMM*1.16, p.Sleeve.WidthMM/2+p.Sleeve.BellmouthFlareMM) + d.between(0, 0.3)
	p.Wire.CurveUp = true
	p.Body.RiseDeg, p.Body.BendDeg = 0.8*d.NormFloat64(), 0.4*d.NormFloat64()
	if d.chance(0.3) {
		for range 1 + d.IntN(2) {
			k := d.stray(*p)
			k.Up, k.RootDeg, k.TipHeight = true, d.between(-50, 50), d.between(-0.8, 0.8)
			p.Strays = append(p.Strays, k)
		}
		s.Defects = append(s.Defects, "stray")
	}
	switch d.IntN(6) {
	case 0:
		p.Wire.GapMM = d.between(1.3, 2.6)
		s.Defects = append(s.Defects, "gap too large")
	case 1:
		p.Body.RiseDeg = d.sign() * d.between(3, 9)
		s.Defects = append(s.Defects, "bend")
	case 2:
		p.Brush.MeanMM = d.between(1.5, 2)
		p.Body.NeckMM = max(p.Body.NeckMM, 2.6)
		s.Defects = append(s.Defects, "brush too long")
	case 3:
		p.Wire.CutLeanDeg = d.sign() * d.between(4, 10)
		s.Defects = append(s.Defects, "oblique cut")
	}
}

// strip takes the contact away and strips the wire.
func (s *Scene) strip(d dice) {
	p := &s.Part
	if d.chance(0.3) {
		w := thinWires[d.IntN(len(thinWires))]
		p.Wire.AreaMM2, p.Wire.Strands, p.Wire.StrandDiameterMM = w.area, w.strands, w.diameter
		p.Wire.InsulationDiameterMM = 1.4*w.diameter*math.Sqrt(float64(w.strands)) + d.between(0.6, 1.2)
	}
	p.Sleeve, p.Body, p.Brush = Sleeve{SheetMM: p.Sleeve.SheetMM}, Body{}, Brush{}
	p.RollDeg, p.PitchDeg, p.Wire.GapMM = 0, d.between(-1.5, 1.5), 0
	p.Wire.LayMM = d.sign() * d.between(24, 70)
	p.AxisMM = p.Wire.InsulationDiameterMM/2 + d.between(0, 0.3)
	k := &Strip{LengthMM: d.between(5.5, 12), SpreadMM: d.between(0.1, 0.5), Splay: d.between(1, 1.12), Ruffled: d.between(0.01, 0.06)}
	p.Strip = k
	if d.chance(0.3) {
		k.Splay = d.between(1.2, 1.7)
		s.Defects = append(s.Defects, "splay")
	}
	if d.chance(0.15) {
		k.Ruffled = d.between(0.15, 1)
		s.Defects = append(s.Defects, "ruffled strands")
	}
	if d.chance(0.3) {
		for range 1 + d.IntN(6) {
			k.Early = append(k.Early, d.between(1.2, 0.85*k.LengthMM))
		}
		s.Defects = append(s.Defects, "cut strands")
	}
	if d.chance(0.25) {
		p.Wire.CutSkewDeg = d.sign() * d.between(5, 20)
		s.Defects = append(s.Defects, "oblique cut")
	}
	if d.chance(0.15) {
		k.SpreadMM = d.between(0.9, 2)
		s.Defects = append(s.Defects, "uneven ends")
	}
}

func (d dice) anyGround() Ground {
	g := d.ground()
	grey := d.between(0.7, 0.88)
	switch d.IntN(9) {
	case 0:
		g = Ground{Kind: "squared", Colour: [3]float64{grey, grey, grey * d.between(0.93, 1)}, PitchMM: []float64{4, 5, 5, 10}[d.IntN(4)]}
	case 1:
		g = Ground{Kind: "print", Colour: [3]float64{grey, grey, grey * d.between(0.9, 1)}, PitchMM: d.between(3.2, 6.5)}
	case 2:
		k := d.between(0.4, 0.65)
		g = Ground{Kind: "bench", Colour: [3]float64{k, k, k * d.between(0.95, 1.03)}}
	case 3: // a card of any colour
		g = Ground{Kind: "card", Colour: [3]float64{d.between(0.03, 0.75), d.between(0.03, 0.75), d.between(0.03, 0.75)}}
	}
	g.TurnDeg = d.between(0, 360)
	if d.chance(0.45) {
		g.Dirt = d.between(0.15, 1)
	}
	if d.chance(0.35) {
		g.Scratches = d.between(0.2, 0.9)
	}
	return g
}

func (d dice) anyLight() Light {
	l := Light{Kind: d.one("sun", "flash", "led", "softbox", "overcast", "mixed"), AzimuthDeg: d.between(0, 360), ElevationDeg: d.between(32, 70),
		Warmth: d.between(-0.9, 0.9), Exposure: d.between(-0.4, 0.35)}
	if d.chance(0.25) {
		l.Tint = [][3]float64{{1.06, 0.98, 0.72}, {1.1, 0.95, 0.6}, {0.92, 1.03, 0.9}, {0.85, 0.99, 1.14}, {1.04, 0.93, 1.03}}[d.IntN(5)]
	}
	if d.chance(0.4) {
		l.Fade, l.FadeDeg = d.between(0.1, 0.7), d.between(0, 360)
	}
	return l
}

// shadows lets a thing outside the picture throw its shadow into it, where there is a lamp that could.
func (s *Scene) shadows(d dice) {
	if s.Light.Kind == "flash" || s.Light.Kind == "overcast" || !d.chance(0.3) {
		return
	}
	sin, cos := math.Sincos(radians(s.Light.AzimuthDeg))
	for range 1 + d.IntN(2) {
		high := d.between(60, 200)
		away := high / math.Tan(radians(s.Light.ElevationDeg))
		x := s.Camera.AimMM[0] + d.between(-30, 30) + cos*away
		y := s.Camera.AimMM[1] + d.between(-22, 22) + sin*away
		ds, dc := math.Sincos(d.between(0, 2*math.Pi))
		b := Blocker{From: [2]float64{x, y}, To: [2]float64{x + 200*dc, y + 200*ds}, RadiusMM: d.between(2, 25), HighMM: high}
		if d.chance(0.6) {
			b.From = [2]float64{x - 200*dc, y - 200*ds}
		}
		s.Light.Blockers = append(s.Light.Blockers, b)
	}
}

func (s *Scene) tape(d dice) {
	if !d.chance(0.2) {
		return
	}
	for range 1 + d.IntN(2) {
		c := [][3]float64{{0.72, 0.66, 0.5}, {0.03, 0.03, 0.035}, {0.1, 0.16, 0.5}, {0.75, 0.75, 0.74}, {0.75, 0.6, 0.08}, {0.55, 0.06, 0.05}}[d.IntN(6)]
		s.Ground.Tapes = append(s.Ground.Tapes, Tape{CentreMM: [2]float64{d.between(-40, 40), d.between(-30, 30)}, TurnDeg: d.between(0, 180),
			LengthMM: d.between(20, 130), WidthMM: d.between(8, 25), Colour: c})
	}
}
