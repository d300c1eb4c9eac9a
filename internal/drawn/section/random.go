package section

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Random gives a varied, plausible scene; the same seed always gives the same scene. About half of the scenes have one
// or more defects, named in Defects.
func Random(seed int64) Scene {
	d := dice{rand.New(rand.NewPCG(uint64(seed), 3))}
	s := Scene{Seed: seed}
	for s.Sleeve = d.sleeve(&s); !s.Sleeve.sound(); s.Sleeve = d.sleeve(&s) {
	}
	s.Fill = d.fill(&s)
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
	s.declare()
	return s
}

// declare sets what the user tells: the wire whose metal area the compaction was held against.
func (s *Scene) declare() {
	area := s.build().ConductorArea() / (1 - s.Fill.Compaction)
	n := s.Fill.Strands + s.Fill.Lost
	if n == 0 {
		return
	}
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
	for _, v := range []*float64{&l.CurlPerMM, &l.WingMM, &l.Tip.DepthMM, &l.Tip.Exp, &l.Tip.Skew, &l.InnerMM, &l.RoofRoundMM} {
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
	h.ShoulderMM = high - w*d.between(0.35, 0.75)
	h.SeamTopMM = high - w*d.between(0.15, 0.5)
	h.TipSheetMM = h.SheetMM * d.between(0.5, 1)
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
	r, l := &c.Right, &c.Left
	switch d.IntN(12) {
	case 0, 1:
		mark("open_wings")
		c.OpeningMM = d.between(0.02, 0.3)
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
		r.TouchesWall, r.WallWaveMM, l.WallWaveMM = true, 0, 0
		w := c.WidthMM/2 - c.SeamMM
		r.CurlPerMM, r.CurlDeg = 1/(w*d.between(0.42, 0.6)), d.between(60, 85)
		r.CurlFromMM = min(r.SeamTopMM, max(r.CurlFromMM, c.FloorMM+w*d.between(0.6, 0.8)))
		sin, cos := math.Sincos(radians(r.CurlDeg))
		r.WingMM = radians(r.CurlDeg)/r.CurlPerMM + (w-r.WallMM-(1-cos)/r.CurlPerMM-r.Tip.DepthMM)/sin + d.between(0.01, 0.05)
	}
}

// sound tells whether the sleeve is a simple polygon with room for strands.
func (c Sleeve) sound() bool {
	for _, k := range []struct {
		h    Half
		sign float64
	}{{c.Right, 1}, {c.Left, -1}} {
		h, w := k.h, c.WidthMM/2-k.sign*c.SeamMM
		if h.CurlFromMM > h.SeamTopMM || h.CurlFromMM < c.FloorMM || h.HeightMM-h.RoofMM-c.FloorMM < 0.35*h.HeightMM {
			return false
		}
		if w-h.WallMM-h.SheetMM < 0.09*w || h.ShoulderMM < 0.3*h.HeightMM || 2*h.TopAt*w < h.SheetMM {
			return false
		}
		s := c.half(h, k.sign)
		if (h.TouchesWall || h.TouchesFloor) != (s.touchA >= 0) || s.touchA >= 0 && s.touchB-s.touchA < 4 {
			return false
		}
		if s.crosses() {
			return false
		}
		// A tip nearly at wall or floor would touch in the picture but not in truth.
		if s.touchA < 0 && s.narrow() < 0.05 {
			return false
		}
	}
	g := c.build()
	for _, p := range g.Cavities {
		if p.crosses() || p.Area() < 0.004 {
			return false
		}
	}
	return g.CavityArea() > 0.12*c.WidthMM*c.Right.HeightMM
}

// crosses tells whether the half's outline crosses itself; where the tip is pressed on, it may touch.
func (s *side) crosses() bool {
	p := append(append(Polygon{}, s.outer...), s.inner...)
	return p.crossesBut(s.touchA-1, s.touchB+1)
}

func (p Polygon) crosses() bool { return p.crossesBut(-9, -9) }

// crossesBut looks for two edges that cross, leaving out the edges from..to.
func (p Polygon) crossesBut(from, to int) bool {
	n := len(p)
	for i := range n {
		if from >= 0 && i >= from && i <= to {
			continue
		}
		a, b := p[i], p[(i+1)%n]
		lo, hi := Polygon{a, b}.box()
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 || from >= 0 && j >= from && j <= to {
				continue
			}
			c, e := p[j], p[(j+1)%n]
			if max(c.X, e.X) < lo.X || min(c.X, e.X) > hi.X || max(c.Y, e.Y) < lo.Y || min(c.Y, e.Y) > hi.Y {
				continue
			}
			ab, ce := b.sub(a), e.sub(c)
			if ab.cross(c.sub(a))*ab.cross(e.sub(a)) < 0 && ce.cross(a.sub(c))*ce.cross(b.sub(c)) < 0 {
				return true
			}
		}
	}
	return false
}

// narrow is the least distance from the wing's end to the wall, roof or floor across from it.
func (s *side) narrow() float64 {
	from := len(s.inner) / 2
	for i, p := range s.inner { // the roof's far corner: what follows is wall and floor
		if p.Y < s.inner[max(0, i-1)].Y-1e-4 && i > 10 && math.Abs(p.X-s.inner[0].X) > 0.02 {
			from = i
			break
		}
	}
	least := math.Inf(1)
	for _, p := range s.outer[max(s.face, len(s.outer)-140):] {
		d, _, _ := s.inner[from:].distance(p)
		least = min(least, d)
	}
	return least
}

// fill throws the strands.
func (d dice) fill(s *Scene) Fill {
	counts := []int{7, 7, 12, 16, 19, 19, 24, 30, 32, 37, 37, 41, 50, 50, 56, 56, 61, 70, 84, 84, 100}
	n := counts[d.IntN(len(counts))]
	area := s.Sleeve.build().CavityArea()
	size := math.Sqrt(area / float64(n))
	f := Fill{Strands: n, Relax: d.IntN(30), Uneven: d.between(0.02, 0.12), CornerMM: size * d.between(0.03, 0.12), WavyMM: size * d.between(0, 0.04),
		Compaction: d.between(0.08, 0.22), Hollows: d.IntN(1 + n/12)}
	if d.chance(0.5) {
		f.Round = d.between(1.06, 1.25)
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
		f.Round, f.Hollows, f.Compaction, f.CornerMM = 0, 0, d.between(0.22, 0.3), size*d.between(0.01, 0.03)
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
	g := s.build()
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

// look throws the surface.
func (d dice) look(s *Scene) Look {
	tint := func(v float64, c [3]float64) [3]float64 {
		for i := range c {
			c[i] = clamp(v*c[i]*d.between(0.97, 1.03), 0, 1)
		}
		return c
	}
	l := Look{Tin: tint(0.89, [3]float64{1, 1, 0.98})}
	switch d.IntN(10) {
	case 0, 1, 2:
		l.Resin = tint(d.between(0.1, 0.2), [3]float64{1, 1, 1.04})
	case 3, 4, 5:
		l.Resin = tint(d.between(0.24, 0.42), [3]float64{1, 1, 0.97})
	case 6:
		l.Resin = tint(d.between(0.42, 0.56), [3]float64{1, 0.98, 0.9})
	case 7, 8:
		hues := [][3]float64{{1.15, 0.95, 0.7}, {0.8, 1, 1.2}, {0.85, 1.05, 0.85}, {1.2, 0.85, 0.8}}
		l.Resin = tint(d.between(0.15, 0.45), hues[d.IntN(len(hues))])
	default:
		l.Resin = tint(d.between(0.56, 0.66), [3]float64{1.02, 1, 0.95})
	}
	metals := [][3]float64{{1, 0.94, 0.88}, {1, 1, 0.99}, {1.04, 0.93, 0.72}, {1.05, 0.85, 0.62}, {1.06, 0.82, 0.66}, {1.1, 0.78, 0.6}}
	l.Sleeve = tint(d.between(0.74, 0.9), metals[d.IntN(len(metals))])
	coppers := [][3]float64{{1.12, 0.7, 0.52}, {1.1, 0.74, 0.58}, {1.08, 0.78, 0.62}, {1.1, 0.66, 0.5}, {1, 0.97, 0.93}}
	l.Strand = tint(d.between(0.62, 0.86), coppers[d.IntN(len(coppers))])
	l.Void = tint(d.between(0.03, 0.11), [3]float64{1.1, 1, 0.95})
	if d.chance(0.3) {
		for i := range l.Void {
			l.Void[i] = l.Resin[i] * d.between(0.5, 0.85)
		}
	}
	l.GrainMM, l.GrainAspect, l.GrainDeg = d.between(0.01, 0.035), d.between(1, 2.2), d.between(0, 180)
	etch := d.between(0.1, 1)
	l.GrainTone, l.GrainLine, l.Twins = 0.075*etch, 0.16*etch*d.Float64(), d.between(0, 0.4)
	l.StrandGrain, l.Etch = d.between(0.5, 1.3), d.between(0.5, 1.3)
	l.GrooveMM, l.GrooveDark = d.between(0.0014, 0.0045), d.between(0.45, 0.95)
	l.RoundMM, l.RoundDark = d.between(0.002, 0.008), d.between(0.1, 0.55)
	if d.chance(0.5) {
		l.ShadowDark = d.between(0.1, 0.6)
	}
	if d.chance(0.4) {
		l.HaloBright = d.between(0.1, 0.8)
	}
	l.SeamMM, l.SeamDark, l.SeamFaint = d.between(0.0022, 0.006), d.between(0.5, 0.95), d.between(0, 0.4)
	if d.chance(0.35) {
		l.PlatingMM = d.between(0.003, 0.008)
	}
	if d.chance(0.35) {
		l.TinnedMM = d.between(0.0015, 0.004)
	}
	l.StrandTone, l.StrandRelief = d.between(0.01, 0.07), d.between(0, 0.06)
	for _, what := range s.Defects {
		if what == "over_compaction" {
			l.GrooveFaint = d.between(0.25, 0.6)
		}
	}
	if l.GrooveFaint == 0 && d.chance(0.4) {
		l.GrooveFaint = d.between(0.05, 0.25)
	}
	d.dirt(&l)
	return l
}

// dirt throws what preparation leaves.
func (d dice) dirt(l *Look) {
	l.Clouds = d.between(0.02, 0.14)
	if d.chance(0.3) {
		l.Fillers = 200 + d.IntN(1300)
	}
	if d.chance(0.5) {
		l.Bubbles = 1 + d.IntN(5)
	}
	l.Scratches, l.ScratchBy, l.Parallel = d.IntN(90), d.between(0.4, 1.5), d.chance(0.4)
	l.Stains = max(0, d.IntN(5)-2)
	l.Pits, l.PitMM = 20+d.IntN(230), d.between(0.0015, 0.004)
	if d.chance(0.4) {
		l.Comets = 1 + d.IntN(9)
	}
	l.Dust = d.IntN(8)
}
