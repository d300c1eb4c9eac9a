package section

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Random gives a varied, plausible scene; the same seed always gives the same scene. About half of the scenes have one
// or more defects, named in Defects.
func Random(seed int64) Scene {
	d := dice{rand.New(rand.NewPCG(uint64(seed), 3))}
	s := Scene{Seed: seed}
	for s.Sleeve = d.sleeve(&s); !s.Sleeve.sound(); s.Sleeve = d.sleeve(&s) {
	}
	named := s.Defects
	area := 0.
	for area == 0 {
		s.Defects = named
		s.Fill = d.fill(&s)
		area = s.filled()
	}
	s.Mirrored = d.chance(0.5)
	s.Look = d.look(&s)
	s.frame(d)
	s.Optics = Optics{BlurPX: d.between(0.55, 1.3), Tilt: [2]float64{d.between(-0.15, 0.15), d.between(-0.15, 0.15)}, Vignette: d.between(0.03, 0.25),
		Middle: [2]float64{d.between(-0.1, 0.1), d.between(-0.1, 0.1)}, Exposure: d.between(0.85, 1.05), Gamma: 1, Flare: d.between(0, 0.03),
		Balance: [3]float64{d.between(0.95, 1.05), 1, d.between(0.94, 1.06)}, ShotNoise: d.between(0.002, 0.012), ReadNoise: d.between(0.001, 0.006)}
	if d.chance(0.4) {
		s.Optics.Sharpen = d.between(0.2, 0.8)
	}
	if d.chance(0.2) {
		s.Optics.Gamma = d.between(0.8, 1.1)
	}
	if d.chance(0.2) {
		s.Optics.BlurSide, s.Optics.SideDeg = d.between(1.3, 2), d.between(0, 360)
	}
	s.declare(area)
	return s
}

// filled gives the strands' area; 0 where one is missing or a mere sliver.
func (s *Scene) filled() float64 {
	g := s.build()
	area, least := g.ConductorArea(), math.Inf(1)
	for _, p := range g.Strands {
		least = min(least, p.Area())
	}
	if len(g.Strands) != s.Fill.Strands || least < 0.35*area/float64(len(g.Strands)) {
		return 0
	}
	return area
}

// declare sets what the user tells: the wire whose metal area the compaction was held against. area is the strands'.
func (s *Scene) declare(area float64) {
	area /= 1 - s.Fill.Compaction
	n := s.Fill.Strands + s.Fill.Lost
	dia := math.Round(1000*math.Sqrt(4*area/(math.Pi*float64(n)))) / 1000
	s.Declared = Declared{ConductorAreaMM2: math.Round(1e4*float64(n)*math.Pi*dia*dia/4) / 1e4, StrandCount: n, StrandDiameterMM: dia,
		SheetMM: math.Round(1000*max(s.Sleeve.Left.SheetMM, s.Sleeve.Right.SheetMM)) / 1000}
}

// sleeve throws a sleeve and names its defects.
func (d dice) sleeve(s *Scene) Sleeve {
	s.Defects = nil
	wide := d.between(2.1, 4.6)
	w, high := wide/2, wide/d.between(1.22, 1.8)
	sheet := wide * d.between(0.14, 0.21)
	c := Sleeve{WidthMM: wide, SeamMM: 0.012 * wide * d.NormFloat64(), FloorMM: sheet * d.between(0.85, 1), FloorRiseMM: d.between(-0.01, 0.04) * wide / 3,
		FloorWaveMM: d.between(0, 0.006), SeamBendMM: 0.008 * wide * d.NormFloat64(), SeamLeanDeg: 2 * d.NormFloat64()}
	if d.chance(0.5) {
		c.RoughMM, c.RoughSizeMM, c.RoughSeed = d.between(0.001, 0.004)*wide, d.between(0.03, 0.08)*wide, d.Uint64()
	}
	c.Right = d.half(w, high, sheet, c.FloorMM)
	c.Left = c.Right
	// Both sides come from one tool: they differ by a few per cent.
	vary := func(v *float64, by float64) { *v *= 1 + clamp(by*d.NormFloat64(), -2*by, 2*by) }
	l := &c.Left
	for _, v := range []*float64{&l.HeightMM, &l.RoofMM, &l.WallMM} {
		vary(v, 0.012)
	}
	for _, v := range []*float64{&l.TopAt, &l.ShoulderMM, &l.SeamTopMM, &l.CurlFromMM, &l.SheetMM, &l.TipSheetMM, &l.CornerMM} {
		vary(v, 0.03)
	}
	for _, v := range []*float64{&l.CurlPerMM, &l.WingMM, &l.Tip.DepthMM, &l.Tip.Exp, &l.Tip.Skew, &l.InnerMM, &l.RoofRoundMM, &l.TaperMM, &l.RoofTiltMM} {
		vary(v, 0.1)
	}
	l.LeanDeg += d.NormFloat64() * 0.7
	l.WavePhase = d.between(0, 6)
	if d.chance(0.3) {
		c.GapAboveMM, c.ContactTopMM = d.between(0.01, 0.07), d.between(c.Right.CurlFromMM, c.Right.SeamTopMM)
	}
	d.damage(s, &c, sheet)
	return c
}

func (d dice) half(w, high, sheet, floor float64) Half {
	h := Half{LeanDeg: 1.5 * d.NormFloat64(), WallMM: sheet * d.between(0.9, 1.03), RoofMM: sheet * d.between(0.85, 1.08), CornerMM: sheet * d.between(0.25, 1),
		InnerMM: sheet * d.between(0.06, 0.4), HeightMM: high, TopAt: d.between(0.42, 0.6), OuterExp: d.between(1.9, 3), SeamExp: d.between(1.5, 2.5),
		SheetMM: sheet * d.between(0.88, 1.02), RoofRoundMM: sheet * d.between(0.05, 0.35), WallWaveMM: d.between(0, 0.006), WavePhase: d.between(0, 6)}
	if d.chance(0.5) {
		h.BowMM = 0.01 * w * d.NormFloat64()
	}
	if d.chance(0.6) {
		h.TaperMM, h.RoofTiltMM = clamp(0.05*w*d.NormFloat64(), -0.1*w, 0.08*w), sheet*d.between(-0.1, 0.3)
		h.RoofRoundMM *= 2
	}
	h.ShoulderMM = high - w*d.between(0.35, 0.75)
	h.SeamTopMM = high - w*d.between(0.15, 0.5)
	h.TipSheetMM = h.SheetMM * d.between(0.4, 1)
	h.Tip = Tip{h.TipSheetMM * d.between(0.15, 0.6), d.between(1.5, 3.5), d.between(0.7, 1.6)}
	end := floor + d.between(0.2, 0.55)*(high-h.RoofMM-floor)
	h.CurlFromMM = end + d.between(0.15, 0.85)*(h.SeamTopMM-end)
	h.CurlPerMM = d.between(0, 1.3) / w
	h.CurlDeg = d.between(20, 55)
	h.WingMM = max(0.05, h.CurlFromMM-end-0.7*h.Tip.DepthMM)
	return h
}

// damage builds in what goes wrong at the press.
func (d dice) damage(s *Scene, c *Sleeve, sheet float64) {
	mark := func(what string) { s.Defects = append(s.Defects, what) }
	r, l := &c.Right, &c.Left
	if d.chance(0.22) {
		mark("burrs")
		for _, h := range []*Half{&c.Left, &c.Right} {
			h.BowMM = 0
			h.Burr = &Burr{HeightMM: sheet * d.between(0.05, 0.5), WidthMM: sheet * d.between(0.02, 0.35), FootMM: sheet * d.between(0.25, 0.5), Blunt: d.Float64()}
		}
	}
	if d.chance(0.12) {
		mark("thin_floor")
		c.FloorMM = sheet * d.between(0.45, 0.7)
	}
	if d.chance(0.12) {
		mark("floor_crack")
		c.Crack = &Crack{AtMM: d.between(-0.25, 0.25) * c.WidthMM, LengthMM: c.FloorMM * d.between(0.25, 0.7), WidthMM: d.between(0.006, 0.02),
			LeanDeg: 20 * d.NormFloat64(), FromBelow: d.chance(0.4)}
	}
	switch d.IntN(12) {
	case 0, 1:
		mark("open_wings")
		c.OpeningMM = d.between(0.02, 0.3)
		// Nearest at one place, so that the link that closes the cavity is plain to see.
		c.GapAboveMM, c.ContactTopMM = d.between(0.02, 0.15), min(r.CurlFromMM, l.CurlFromMM)-0.02
	case 2:
		mark("asymmetric_wings")
		c.SeamMM = d.sign() * d.between(0.04, 0.11) * c.WidthMM
		r.WingMM *= d.between(1.1, 1.5)
		l.WingMM *= d.between(0.5, 0.8)
		r.HeightMM *= d.between(0.95, 1.04)
	case 3:
		mark("tip_height")
		l.WingMM *= d.between(0.3, 0.7)
		l.CurlFromMM = min(l.SeamTopMM, l.CurlFromMM+d.between(0.03, 0.12)*c.WidthMM)
	case 4:
		mark("tip_touches_floor")
		r.TouchesFloor, r.CurlPerMM, r.CurlDeg = true, d.between(0, 0.3)/c.WidthMM, 10
		r.WingMM = r.CurlFromMM - c.FloorMM - r.Tip.DepthMM + d.between(0.01, 0.06)
	case 5:
		mark("tip_touches_wall")
		r.TouchesWall, r.WallWaveMM, r.TaperMM = true, 0, 0
		w := c.WidthMM/2 - c.SeamMM
		r.CurlPerMM, r.CurlDeg = 1/(w*d.between(0.42, 0.6)), d.between(60, 85)
		r.CurlFromMM = min(r.SeamTopMM, max(r.CurlFromMM, c.FloorMM+w*d.between(0.6, 0.8)))
		sin, cos := math.Sincos(radians(r.CurlDeg))
		r.WingMM = radians(r.CurlDeg)/r.CurlPerMM + (w-r.WallMM-(1-cos)/r.CurlPerMM-r.Tip.DepthMM)/sin + d.between(0.01, 0.05)
	}
}

// fill throws the strands.
func (d dice) fill(s *Scene) Fill {
	s.Defects = slices.Clone(s.Defects)
	counts := []int{7, 7, 12, 16, 19, 19, 24, 30, 32, 37, 37, 41, 50, 50, 56, 56, 61, 70, 84, 84, 100}
	n := counts[d.IntN(len(counts))]
	area := s.Sleeve.build().CavityArea()
	size := math.Sqrt(area / float64(n))
	f := Fill{Strands: n, Relax: d.IntN(30), Uneven: d.between(0.02, 0.12), CornerMM: size * d.between(0.03, 0.12), WavyMM: size * d.between(0, 0.04),
		Compaction: d.between(0.08, 0.22), Hollows: d.IntN(1 + n/12)}
	if d.chance(0.5) {
		f.Round = d.between(1.06, 1.25)
	}
	if d.chance(0.1) { // strands of two sizes, or cut askew
		f.Uneven = d.between(0.15, 0.3)
	}
	switch d.IntN(8) {
	case 0, 1:
		s.Defects = append(s.Defects, "under_compaction")
		f.Round, f.Compaction, f.CornerMM = d.between(0.93, 1.08), d.between(-0.01, 0.06), size*d.between(0.05, 0.15)
		f.Hollows = d.IntN(2 + n/8)
		if d.chance(0.3) {
			f.SlitMM, f.Slits = d.between(0.008, 0.02), d.between(0.05, 0.3)
		}
	case 2:
		s.Defects = append(s.Defects, "over_compaction")
		f.Round, f.Hollows, f.Compaction, f.CornerMM = 0, 0, d.between(0.22, 0.3), size*d.between(0.02, 0.06)
	case 3:
		s.Defects = append(s.Defects, "missing_strands")
		f.Lost = 1 + d.IntN(max(1, n/8))
	}
	return f
}

// frame sets the picture's size, scale and where the part lies in it.
func (s *Scene) frame(d dice) {
	sizes := [][2]int{{1280, 960}, {1280, 960}, {1280, 960}, {1024, 768}, {1600, 1200}, {1920, 1440}, {1280, 1024}}
	k := sizes[d.IntN(len(sizes))]
	s.Width, s.Height = k[0], k[1]
	switch d.IntN(10) {
	case 0, 1, 2, 3, 4:
		s.TurnDeg = 4 * d.NormFloat64()
	case 5, 6:
		s.TurnDeg = d.between(-30, 30)
	case 7, 8:
		s.TurnDeg = 90*float64(1+d.IntN(3)) + 4*d.NormFloat64()
	default:
		s.TurnDeg = d.between(-180, 180)
	}
	s.MMPerPX = 1
	g := s.Sleeve.build()
	if s.Mirrored {
		g.mirror()
	}
	box := func() (x, y float64) {
		v := s.view(g)
		var p Polygon
		for _, q := range g.Sheet[0] {
			p = append(p, v.px(q))
		}
		lo, hi := p.box()
		return hi.X - lo.X, hi.Y - lo.Y
	}
	x, y := box()
	s.MMPerPX = math.Round(1e5*d.between(1.04, 1.75)*max(x/float64(s.Width-60), y/float64(s.Height-60))) / 1e5
	x, y = box()
	free := [2]float64{float64(s.Width) - x - 50, float64(s.Height) - y - 50}
	s.ShiftPX = [2]float64{free[0] * d.between(-0.42, 0.42), free[1] * d.between(-0.42, 0.42)}
	s.Format = d.format()
	if d.chance(0.55) {
		s.scaleBar(d, g)
	}
}

func (d dice) format() Format {
	k := Format{Kind: "jpg", Quality: 85 + d.IntN(11), Bits: 8, Grey: d.chance(0.35)}
	switch d.IntN(10) {
	case 0, 1:
		k.Kind = "png"
	case 2:
		k.Kind = "tif"
		if d.chance(0.6) {
			k.Grey, k.Bits = true, 16
		}
	}
	return k
}

// scaleBar puts a bar into a corner where it covers nothing; where there is none the scale is told.
func (s *Scene) scaleBar(d dice, g *Geometry) {
	um := []float64{100, 200, 250, 500, 1000}
	c := Scale{ThickPX: math.Round(float64(s.Width) * d.between(0.004, 0.011)), TextPX: float64(s.Width) * d.between(0.018, 0.03), Boxed: d.chance(0.4),
		Ticks: d.chance(0.3), Mono: d.chance(0.3)}
	light := s.Look.Resin[1] > 0.5
	c.Dark = light
	if c.Boxed {
		c.Dark = d.chance(0.6)
	}
	share := d.between(0.1, 0.3) * float64(s.Width) * s.MMPerPX * 1000
	for _, v := range um {
		if c.BarUM == 0 || math.Abs(v-share) < math.Abs(c.BarUM-share) {
			c.BarUM = v
		}
	}
	unit := [...]string{"µm", "µm", "um", " µm", " um"}[d.IntN(5)]
	c.Text = fmt.Sprintf("%g%s", c.BarUM, unit)
	if c.BarUM == 1000 && d.chance(0.7) {
		c.Text = "1 mm"
	}
	v := s.view(g)
	for i, from := 0, d.IntN(4); i < 4; i++ {
		s.Scale = c
		s.Scale.Corner = (from + i) % 4
		b := s.bar().box
		hit := false
		for _, p := range g.Sheet[0] {
			q := v.px(p)
			hit = hit || q.X > b[0]-15 && q.X < b[2]+15 && q.Y > b[1]-15 && q.Y < b[3]+15
		}
		if !hit {
			return
		}
	}
	s.Scale = Scale{}
}
