package section

import (
	"math"

	"crimprule/vision/record"
)

// Truth is what is true of a drawn micrograph.
type Truth struct {
	Values   map[record.Key]float64 // as the keys say; only what the geometry has
	Declared Declared
	Aid      Aid
	Geometry *Geometry // the polygons, millimetres
}

// Aid tells where things lie in the picture, for people and for tests. Places are pixels; (0, 0) is the centre of the
// top left one, x right and y down.
type Aid struct {
	Note        string                `json:"note"`
	MMPerPX     float64               `json:"mm_per_px"`
	MMToPX      [6]float64            `json:"mm_to_px"` // x = m0·X + m1·Y + m4, y = m2·X + m3·Y + m5
	TurnDeg     float64               `json:"turn_deg"`
	Sleeve      [][2]float64          `json:"sleeve"`
	Cavity      [][][2]float64        `json:"cavity"`
	Tips        map[string][2]float64 `json:"tips"`
	Contact     *[2]float64           `json:"contact"`
	FloorLine   [][2]float64          `json:"floor_line"`
	Crack       [][2]float64          `json:"crack,omitempty"`
	Strands     [][2]float64          `json:"strands"`
	Outlines    [][][2]float64        `json:"strand_outlines"`
	CavityLeft  float64               `json:"cavity_area_left_mm2"`
	CavityRight float64               `json:"cavity_area_right_mm2"`
	ScaleBar    *ScaleBar             `json:"scale_bar"`
}

// ScaleBar is where the drawn bar lies.
type ScaleBar struct {
	Ends  [][2]float64 `json:"bar_px"`
	Text  string       `json:"text"`
	Boxed bool         `json:"boxed"`
	Ticks bool         `json:"ticks"`
}

// ConductorArea of all strands, mm².
func (g *Geometry) ConductorArea() float64 {
	a := 0.
	for _, p := range g.Strands {
		a += p.Area()
	}
	return a
}

// CavityArea of all cavities, mm².
func (g *Geometry) CavityArea() float64 {
	a := 0.
	for _, p := range g.Cavities {
		a += p.Area()
	}
	return a
}

func (s Scene) truth(g *Geometry) Truth {
	t := Truth{Values: map[record.Key]float64{}, Declared: s.Declared, Geometry: g}
	v := t.Values
	t.Aid = s.aid(g)
	if s.NoSection {
		return t
	}
	area, cavity := g.ConductorArea(), g.CavityArea()
	if cavity > 0 {
		v[record.StrandCount], v[record.ConductorArea] = float64(len(g.Strands)), area
		v[record.VoidRatio] = (cavity - area) / cavity
		if s.Declared.ConductorAreaMM2 > 0 {
			v[record.Compaction] = 1 - area/s.Declared.ConductorAreaMM2
		}
	}
	if g.left == nil {
		if len(g.Sheet) > 0 {
			lo, hi := g.Sheet[0].box()
			v[record.CrimpWidth], v[record.CrimpHeight] = hi.X-lo.X, hi.Y-lo.Y
		}
		return t
	}
	g.sleeveTruth(v)
	left, right := g.halves()
	t.Aid.CavityLeft, t.Aid.CavityRight = left, right
	v[record.Symmetry] = min(left, right) / max(left, right)
	v[record.WingOpening] = g.opening
	v[record.WingTipFloorLeft], v[record.WingTipFloorRight] = g.left.reach(), g.right.reach()
	v[record.WingTipHeightDifference] = math.Abs(g.left.tip.Y - g.right.tip.Y)
	return t
}

// sleeveTruth: size, floor and burrs.
func (g *Geometry) sleeveTruth(v map[record.Key]float64) {
	base, top := math.Inf(1), math.Inf(-1)
	west, east := math.Inf(1), math.Inf(-1)
	thin := math.Inf(1)
	for _, s := range []*side{g.left, g.right} {
		for i, p := range s.outer {
			if i >= s.burr[0] && i < s.burr[1] {
				continue
			}
			base, top, west, east = min(base, p.Y), max(top, p.Y), min(west, p.X), max(east, p.X)
		}
		for _, p := range s.inner[s.floor:] {
			thin = min(thin, p.Y)
		}
	}
	v[record.CrimpHeight], v[record.CrimpWidth], v[record.FloorThickness] = top-base, east-west, thin-base
	v[record.BurrHeightLeft], v[record.BurrWidthLeft] = g.left.flash(base, -1)
	v[record.BurrHeightRight], v[record.BurrWidthRight] = g.right.flash(base, 1)
}

// flash is a burr's height below the floor's line and its width beyond the straight wall carried downwards.
func (s *side) flash(base, sign float64) (height, width float64) {
	a, b := s.outer[s.wall[0]], s.outer[s.wall[1]]
	for _, p := range s.outer[s.burr[0]:s.burr[1]] {
		at := a.X + (p.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y)
		height, width = max(height, base-p.Y), max(width, sign*(p.X-at))
	}
	return height, width
}

// reach is the distance from the wing's tip to the floor's inner face.
func (s *side) reach() float64 {
	d, _, _ := s.inner[s.floor:].distance(s.tip)
	if d < 1e-6 {
		return 0
	}
	return d
}

// halves are the cavity's areas on both sides of the upright line through the contact.
func (g *Geometry) halves() (left, right float64) {
	x := g.contact.X
	for _, c := range g.Cavities {
		for _, p := range c.clip(half{Point{1, 0}, x}) {
			left += p.Area()
		}
		for _, p := range c.clip(half{Point{-1, 0}, -x}) {
			right += p.Area()
		}
	}
	return left, right
}

// view maps millimetres to pixels.
type view struct {
	m [6]float64
}

func (v view) px(p Point) Point {
	return Point{v.m[0]*p.X + v.m[1]*p.Y + v.m[4], v.m[2]*p.X + v.m[3]*p.Y + v.m[5]}
}

// mm is the way back.
func (v view) mm(p Point) Point {
	p = Point{p.X - v.m[4], p.Y - v.m[5]}
	det := v.m[0]*v.m[3] - v.m[1]*v.m[2]
	return Point{(v.m[3]*p.X - v.m[1]*p.Y) / det, (v.m[0]*p.Y - v.m[2]*p.X) / det}
}

// view puts the middle of the part's box into the middle of the picture, shifted as the scene says.
func (s Scene) view(g *Geometry) view {
	sin, cos := math.Sincos(radians(s.TurnDeg))
	k := 1 / s.MMPerPX
	v := view{[6]float64{k * cos, -k * sin, -k * sin, -k * cos, 0, 0}}
	var mid Point
	if len(g.Sheet) > 0 {
		lo, hi := g.Sheet[0].box()
		mid = lo.mix(hi, 0.5)
	} else if len(g.Strands) > 0 {
		lo, hi := g.Strands[0].box()
		mid = lo.mix(hi, 0.5)
	}
	at := v.px(mid)
	v.m[4] = float64(s.Width-1)/2 + s.ShiftPX[0] - at.X
	v.m[5] = float64(s.Height-1)/2 + s.ShiftPX[1] - at.Y
	return v
}

func (s Scene) aid(g *Geometry) Aid {
	v := s.view(g)
	see := func(p Point) [2]float64 {
		p = v.px(p)
		return [2]float64{math.Round(p.X*100) / 100, math.Round(p.Y*100) / 100}
	}
	all := func(l []Point) [][2]float64 {
		out := make([][2]float64, len(l))
		for i, p := range l {
			out[i] = see(p)
		}
		return out
	}
	a := Aid{Note: "pixels; the centre of the top-left pixel is (0, 0); x right, y down", MMPerPX: s.MMPerPX, MMToPX: v.m, TurnDeg: s.TurnDeg,
		Cavity: [][][2]float64{}, Strands: [][2]float64{}, Outlines: [][][2]float64{}, Tips: map[string][2]float64{}}
	if s.NoSection {
		g = &Geometry{}
	}
	outline := g.outline
	if outline == nil && len(g.Sheet) > 0 {
		outline = g.Sheet[0]
	}
	a.Sleeve = all(outline)
	for _, c := range g.Cavities {
		a.Cavity = append(a.Cavity, all(c))
	}
	for _, p := range g.Strands {
		a.Strands, a.Outlines = append(a.Strands, see(p.Centroid())), append(a.Outlines, all(p))
	}
	a.Crack = all(g.Crack)
	if g.left != nil {
		at := see(g.contact)
		a.Contact = &at
		a.Tips["left"], a.Tips["right"] = see(g.left.tip), see(g.right.tip)
		lo, hi := outline.box()
		a.FloorLine = [][2]float64{see(Point{lo.X, 0}), see(Point{hi.X, 0})}
	}
	if s.Scale.BarUM > 0 {
		a.ScaleBar = s.bar().place()
	}
	return a
}
