package drawn

import (
	"math"
	"math/rand/v2"
)

// geometry is a part made ready: everything that truth and the picture are both made from.
type geometry struct {
	Part
	seed uint64

	half       float64 // of the sleeve's width
	top, floor float64 // z of the humps' top and of the sleeve's underside
	fill       float64 // z of the strands between the wings
	conductor  float64 // radius of the bare bundle
	outer      int     // strands in the bundle's outer layer
	slope      float64 // of the seam
	skew, lean float64 // slopes of the cut
	bendSin    float64
	bendCos    float64
	riseSin    float64
	riseCos    float64
	insulation float64 // radius

	ends []bareStrand // of a stripped wire

	brush  []rod
	strays []curve
	pose   frame // part axes in the world
	origin vec   // the part frame's origin in the world
	boxes  boxes
}

type boxes struct {
	wire, bare, sleeve, body, grip, brush, all box
	strays                                     []box
}

// rod is a straight strand end with a flat face.
type rod struct {
	from, dir vec
	length    float64
}

func (r rod) tip() vec { return r.from.add(r.dir.mul(r.length)) }

// curve is a bent strand: a chain of capsules.
type curve struct {
	points []vec
	radius float64
}

// length runs along the curve to the end of its rounded tip.
func (c curve) length() float64 {
	sum := c.radius
	for i := 1; i < len(c.points); i++ {
		sum += c.points[i].sub(c.points[i-1]).norm()
	}
	return sum
}

func (p Part) geometry(seed int64) *geometry {
	s := p.Sleeve
	g := &geometry{Part: p, seed: uint64(seed)*2654435761 + 17}
	g.half = s.WidthMM / 2
	g.top, g.floor = s.HeightMM/2, -s.HeightMM/2
	deepest := max(s.SheetMM, max(g.shoulder(g.half-s.SeamOffsetMM), g.shoulder(g.half+s.SeamOffsetMM)))
	g.fill = g.top - deepest - 0.12
	d := p.Wire.StrandDiameterMM
	// Round strands lie in a stranded wire at about 0.75 of the area of the circle round them.
	g.conductor = d / 2 * math.Sqrt(float64(p.Wire.Strands)/0.75)
	g.outer = int(math.Pi / math.Asin(d/2/(g.conductor-d/2)))
	g.insulation = p.Wire.InsulationDiameterMM / 2
	g.slope, g.skew, g.lean = math.Tan(radians(s.SeamSlopeDeg)), math.Tan(radians(p.Wire.CutSkewDeg)), math.Tan(radians(p.Wire.CutLeanDeg))
	g.bendSin, g.bendCos = math.Sincos(radians(p.Body.BendDeg))
	g.riseSin, g.riseCos = math.Sincos(radians(p.Body.RiseDeg))
	g.placePart()
	if p.Strip != nil {
		g.growStrip()
		g.measureStrip()
		return g
	}
	g.growBrush()
	g.bendStrays()
	g.measureBoxes()
	return g
}

func (g *geometry) placePart() {
	a, r, q := radians(g.AlphaDeg), radians(g.RollDeg), radians(g.PitchDeg)
	along, left, up := vec{math.Cos(a), math.Sin(a), 0}, vec{-math.Sin(a), math.Cos(a), 0}, vec{0, 0, 1}
	x := along.mul(math.Cos(q)).sub(up.mul(math.Sin(q)))
	z := along.mul(math.Sin(q)).add(up.mul(math.Cos(q)))
	g.pose = frame{x, left.mul(math.Cos(r)).add(z.mul(math.Sin(r))), z.mul(math.Cos(r)).sub(left.mul(math.Sin(r)))}
	g.origin = vec{g.CentreMM[0], g.CentreMM[1], g.AxisMM}.sub(g.pose.X.mul(g.Sleeve.LengthMM / 2))
}

// shoulder is the radius of a hump over a wing of that width.
func (g *geometry) shoulder(wing float64) float64 { return g.Sleeve.HumpRound * wing / 2 }

// flare is how far the bellmouth widens the outline at x, per side.
func (g *geometry) flare(x float64) float64 {
	b := g.Sleeve.BellmouthMM
	if x >= b {
		return 0
	}
	return g.Sleeve.BellmouthFlareMM * math.Pow(min(1, (b-x)/b), 1.3)
}

// seam gives the two tip edges at x as they would be without missing pieces.
func (g *geometry) seam(x float64) (left, right float64) {
	s := g.Sleeve
	mid := s.SeamOffsetMM + (x-s.LengthMM/2)*g.slope
	if s.SeamWanderMM != 0 {
		mid += s.SeamWanderMM * math.Sin(2*math.Pi*x/s.LengthMM*1.7+float64(g.seed%7))
	}
	open := s.OpeningMM + (s.OpeningFrontMM-s.OpeningMM)*clamp(x/s.LengthMM, 0, 1)
	return mid + open/2, mid - open/2
}

// bite is how far a missing piece sets the tip edge back at x. Its sides are steep and its ground is rough, as torn or
// nicked sheet is.
func (g *geometry) bite(x float64, left bool) float64 {
	depth := 0.0
	for i, n := range g.Sleeve.Notches {
		u := math.Abs(x-n.AtMM) / (n.LengthMM / 2)
		if n.Left != left || u >= 1 {
			continue
		}
		rough := 1 + 0.12*noise(g.seed+uint64(i)+90, x*6, 0)
		depth = max(depth, n.DepthMM*rough*(1-smooth(0.8, 1, u)))
	}
	return depth
}

// tips gives the two tip edges at x, missing pieces included.
func (g *geometry) tips(x float64) (left, right float64) {
	left, right = g.seam(x)
	return left + g.bite(x, true), right - g.bite(x, false)
}

// cut is the x of the insulation's cut face at (y, z).
func (g *geometry) cut(y, z float64) float64 {
	w := g.Wire
	x := -w.GapMM + y*g.skew + z*g.lean
	if w.CutRippleMM != 0 {
		x += w.CutRippleMM * noise(g.seed+5, y*1.3, z*1.3)
	}
	return x
}

// squash is the share to which the bundle's height shrinks on its way into the sleeve.
func (g *geometry) squash(x float64) float64 {
	low := clamp((g.fill+0.25)/g.conductor, 0.45, 1)
	return 1 + (low-1)*smooth(-1.1, 0.05, x)
}

// growBrush fills the sleeve's inside with strands and lets each end at its own length past the front edge.
func (g *geometry) growBrush() {
	if g.Brush.MeanMM <= 0 && g.Brush.SpreadMM <= 0 || g.Sleeve.Form != "" {
		return
	}
	random := rand.New(rand.NewPCG(g.seed, 2))
	spots := g.pack()
	r := g.Wire.StrandDiameterMM / 2
	for _, s := range spots {
		out := g.Brush.MeanMM + g.Brush.SpreadMM*(2*random.Float64()-1)
		dir := vec{1, 0.06 * random.NormFloat64(), 0.05 * random.NormFloat64()}.unit()
		out = max(out, 0.03)
		// The foremost point of the tilted flat end stands r·sin(angle) before its centre.
		length := (out - r*math.Sqrt(1-dir.X*dir.X) + 0.4) / dir.X
		g.brush = append(g.brush, rod{vec{g.Sleeve.LengthMM - 0.4, s[0], s[1]}, dir, length})
	}
}

// pack lays the strands in a hexagonal pattern inside the sleeve's cross-section, as close as makes their number fit.
// Crimping draws the sheet thinner, so they come nearer to the outline than its thickness.
func (g *geometry) pack() [][2]float64 {
	x, r := g.Sleeve.LengthMM-0.01, g.Wire.StrandDiameterMM/2
	inside := func(pitch float64) (spots [][2]float64) {
		row := 0
		for z := g.top; z > g.floor; z -= pitch * 0.866 {
			for y := -g.half + float64(row%2)*pitch/2; y < g.half; y += pitch {
				if g.profile(x, y, z) < -(g.Sleeve.SheetMM*0.75 + r*0.6) {
					spots = append(spots, [2]float64{y, z})
				}
			}
			row++
		}
		return spots
	}
	lo, hi := r, 8*r
	for range 30 {
		mid := (lo + hi) / 2
		if len(inside(mid)) >= g.Wire.Strands {
			lo = mid
		} else {
			hi = mid
		}
	}
	spots := inside(lo)
	return spots[:min(len(spots), g.Wire.Strands)]
}

// bendStrays draws each stray strand as a cubic curve from its root outwards.
func (g *geometry) bendStrays() {
	for _, s := range g.Strays {
		if s.Up {
			g.strays = append(g.strays, g.upright(s))
			continue
		}
		side := -1.0
		if s.Left {
			side = 1
		}
		a := radians(s.RootDeg)
		r := g.conductor - s.DiameterMM/2
		x0 := (g.cut(0, 0)) / 2
		p0 := vec{x0, side * r * math.Sin(a), r * math.Cos(a) * g.squash(x0)}
		past := g.half + g.Sleeve.BellmouthFlareMM
		along := s.AlongMM
		if s.Back {
			past, along = g.insulation, -along
		}
		p1 := p0.add(vec{0, side * 0.8, 0.5})
		p2 := vec{x0, side * (past + 0.35), max(p0.Z, 0.2) * 0.8}
		if s.Front {
			x0 = g.Sleeve.LengthMM
			p0 = vec{x0, side * g.half * 0.45 * math.Sin(a), g.fill - 0.1}
			past = g.half
			p1 = p0.add(vec{0.7, side * 0.2, 0.4})
			p2 = vec{x0 + 0.9, side * (past + 0.1), g.fill + 0.5}
		}
		p3 := vec{x0 + along, side * (past + s.ReachMM), s.TipHeight}
		g.strays = append(g.strays, cubic(s.DiameterMM/2, p0, p1, p2, p3))
	}
}

// cubic is a strand along a cubic Bézier curve.
func cubic(radius float64, p0, p1, p2, p3 vec) curve {
	c := curve{radius: radius}
	const pieces = 24
	for i := range pieces + 1 {
		t := float64(i) / pieces
		u := 1 - t
		c.points = append(c.points, p0.mul(u*u*u).add(p1.mul(3*u*u*t)).add(p2.mul(3*u*t*t)).add(p3.mul(t*t*t)))
	}
	return c
}

// wireReach is how far behind the sleeve the wire is drawn; it leaves every picture before that.
const wireReach = 160.0

func (g *geometry) wireBox(side, front float64) box {
	b := box{vec{-wireReach, -side, -side}, vec{front, side, side}}
	if g.Wire.CurveMM == 0 {
		return b
	}
	r := math.Abs(g.Wire.CurveMM)
	away := r
	if wireReach < r {
		away = r - math.Sqrt(r*r-wireReach*wireReach)
	}
	lo, hi := &b.lo.Y, &b.hi.Y
	if g.Wire.CurveUp {
		lo, hi = &b.lo.Z, &b.hi.Z
	}
	if g.Wire.CurveMM > 0 {
		*hi += away
	} else {
		*lo -= away
	}
	return b
}

func (g *geometry) measureBoxes() {
	b, s := &g.boxes, g.Sleeve
	side := g.insulation + 0.2
	b.wire = g.wireBox(side, 0.8)
	c := g.conductor + 0.1
	b.bare = box{vec{-g.Wire.GapMM - 3, -c, -c}, vec{0.3, c, c}}
	w := g.half + s.BellmouthFlareMM
	b.sleeve = box{vec{0, -w, g.floor - s.BellmouthFlareMM}, vec{s.LengthMM, w, g.top + s.BellmouthFlareMM}}
	if s.Form == FormOpen {
		b.bare.hi.X = s.LengthMM + g.Brush.MeanMM
		b.sleeve.hi.Z = g.floor + g.wingMM() + s.SheetMM
	}
	reach := g.Body.NeckMM + g.Body.LengthMM
	swing := (reach + 1) * math.Sin(radians(math.Abs(g.Body.BendDeg)))
	h := max(g.half, g.Body.RadiusMM) + 0.6
	if s.Form == FormTube {
		h = max(h, 1.5*g.Body.RadiusMM)
	}
	b.body = box{vec{s.LengthMM - 0.5, -h - swing, -h}, vec{s.LengthMM + reach + 1, h + swing, h}}
	if g.Body.RiseDeg != 0 {
		swing = (reach + 1) * math.Abs(g.riseSin)
		b.body.lo.Z, b.body.hi.Z = b.body.lo.Z-swing, b.body.hi.Z+swing
	}
	b.all = b.wire.join(b.bare).join(b.sleeve).join(b.body)
	if g.Part.Grip != nil {
		b.grip = g.gripBox()
		b.all = b.all.join(b.grip)
	}
	for i, r := range g.brush {
		e := vec{0.4, 0.4, 0.4}
		one := box{r.from, r.from}.join(box{r.tip(), r.tip()})
		one.lo, one.hi = one.lo.sub(e), one.hi.add(e)
		if i == 0 {
			b.brush = one
		}
		b.brush = b.brush.join(one)
	}
	if len(g.brush) > 0 {
		b.all = b.all.join(b.brush)
	}
	for _, c := range g.strays {
		one := box{c.points[0], c.points[0]}
		for _, p := range c.points {
			e := vec{c.radius, c.radius, c.radius}
			one = one.join(box{p.sub(e), p.add(e)})
		}
		b.strays = append(b.strays, one)
		b.all = b.all.join(one)
	}
}
