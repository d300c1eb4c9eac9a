package drawn

import (
	"math"
	"math/rand/v2"
	"slices"

	"crimprule/vision/record"
)

// bareStrand is one strand of a stripped wire, in a frame that turns with the lay.
type bareStrand struct {
	y, z   float64 // its middle at the insulation's cut
	widen  float64 // share of the bundle's widening that it takes part in
	by, bz float64 // how far it has bent away at the end
	end    float64 // x of its flat end's middle
}

// growStrip lays the strands in concentric layers, as stranding machines do, and lets each end at its own length.
func (g *geometry) growStrip() {
	random := rand.New(rand.NewPCG(g.seed, 5))
	n, s := g.Wire.Strands, g.Strip
	layers := 0
	for left := n - 1; left > 0; left -= 6 * layers {
		layers++
	}
	pitch := (g.conductor - g.Wire.StrandDiameterMM/2) / max(1, float64(layers))
	g.ends = append(g.ends, bareStrand{end: s.LengthMM})
	for k := 1; k <= layers; k++ {
		full := min(6*k, n-len(g.ends))
		turn := random.Float64()
		for i := range full {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + turn + 0.25*(random.Float64()-0.5)) / float64(full))
			r := pitch * float64(k) * (1 - 0.05*random.Float64())
			b := bareStrand{y: r * cos, z: r * sin, widen: 0.6 + 0.4*random.Float64(), end: s.LengthMM + s.SpreadMM*(random.Float64()-0.5)}
			away := s.Ruffled * random.NormFloat64() * float64(k) / float64(layers)
			b.by, b.bz = away*cos+0.4*away*random.NormFloat64()*sin, away*sin-0.4*away*random.NormFloat64()*cos
			g.ends = append(g.ends, b)
		}
	}
	for k, i := range random.Perm(n)[:min(n, len(s.Early))] {
		g.ends[i].end = s.LengthMM - s.Early[k]
	}
}

// along gives the strand's middle at x in the turning frame.
func (b *bareStrand) along(s *Strip, x float64) (y, z float64) {
	u := max(0, x/s.LengthMM)
	k := 1 + (s.Splay-1)*b.widen*u*math.Sqrt(u)
	return b.y*k + b.by*u*u, b.z*k + b.bz*u*u
}

// middle is the strand's middle at x in the part frame.
func (g *geometry) middle(i int, x float64) vec {
	y, z := g.ends[i].along(g.Strip, x)
	s, c := math.Sincos(2 * math.Pi * x / g.Wire.LayMM)
	return vec{x, c*y - s*z, s*y + c*z}
}

// stripDistance is distance for a stripped wire.
func (g *geometry) stripDistance(p vec) (float64, stuff) {
	best, what := math.Inf(1), nothing
	if d := g.boxes.wire.distance(p); d < best {
		best, what = g.wire(p)
	}
	if d := g.boxes.bare.distance(p); d < best {
		if d < 0.4 {
			d = g.bareEnds(p)
		}
		if d < best {
			best, what = d, strand
		}
	}
	return best, what
}

// bareEnds is a lower bound of the distance to the bare strands: in the section square to the axis, in the frame that turns
// with the lay, shortened for the strands' slope.
func (g *geometry) bareEnds(p vec) float64 {
	s, c := math.Sincos(2 * math.Pi * p.X / g.Wire.LayMM)
	y, z := c*p.Y+s*p.Z, c*p.Z-s*p.Y
	u := max(0, p.X/g.Strip.LengthMM)
	k, u2 := (g.Strip.Splay-1)*u*math.Sqrt(u), u*u
	r := g.Wire.StrandDiameterMM / 2
	best := math.Inf(1)
	for i := range g.ends {
		b := &g.ends[i]
		w := 1 + k*b.widen
		dy, dz := y-b.y*w-b.by*u2, z-b.z*w-b.bz*u2
		d, past := dy*dy+dz*dz, p.X-b.end
		if past > 0 {
			d += past * past
		}
		if near := best + r; d >= near*near {
			continue
		}
		side := math.Sqrt(dy*dy+dz*dz) - r
		d = max(side, past)
		if side > 0 && past > 0 {
			d = hypot(side, past)
		}
		best = min(best, d)
	}
	return max(best*0.86, g.boxes.bare.lo.X-p.X)
}

func (g *geometry) measureStrip() {
	b, r := &g.boxes, g.Wire.StrandDiameterMM
	b.wire = g.wireBox(g.insulation+0.2, 0.4+g.insulation*(math.Abs(g.skew)+math.Abs(g.lean)))
	b.bare = box{vec{-2.5, 0, 0}, vec{}}
	for i := range g.ends {
		for k := range 41 {
			x := g.ends[i].end * float64(k) / 40
			m := g.middle(i, x)
			b.bare = b.bare.join(box{m.sub(vec{0, r, r}), m.add(vec{r, r, r})})
		}
	}
	b.all = b.wire.join(b.bare)
}

// foremost is the x of the foremost point of a strand's flat end, which stands square to the strand.
func (g *geometry) foremost(i int) float64 {
	e := g.ends[i].end
	a, b := g.middle(i, e-0.02), g.middle(i, e)
	dir := b.sub(a).unit()
	return e + g.Wire.StrandDiameterMM/2*math.Sqrt(max(0, 1-dir.X*dir.X))
}

// stripTruth evaluates the measurands of a stripped wire: from the insulation's cut at the axis, x along the insulation's
// axis, widths as seen from straight above, of all strands.
func (g *geometry) stripTruth(v map[record.Key]float64) {
	cut := 0.0
	for i := range 360 {
		s, c := math.Sincos(radians(float64(i)))
		cut += g.cut(g.insulation*c, g.insulation*s) / 360
	}
	var ends []float64
	for i := range g.ends {
		ends = append(ends, g.foremost(i))
	}
	slices.Sort(ends)
	n := len(ends)
	median := (ends[(n-1)/2] + ends[n/2]) / 2
	early := 0
	for _, e := range ends {
		if e < median-2*g.Wire.StrandDiameterMM {
			early++
		}
	}
	root, widest := g.bareWidth(cut), 0.0
	for i := range stations {
		widest = max(widest, g.bareWidth(cut+(ends[n-1]-cut)*float64(i)/stations))
	}
	v[record.StripLength], v[record.StrandEndSpread] = median-cut, ends[n-1]-ends[0]
	v[record.CutStrands], v[record.Splay] = float64(early), widest/root
	v[record.InsulationCutAngle] = math.Abs(math.Atan(g.skew)) * 180 / math.Pi
}

// bareWidth is the width across of all strands at x, seen from above.
func (g *geometry) bareWidth(x float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for i := range g.ends {
		if x > g.ends[i].end {
			continue
		}
		y := g.middle(i, x).Y
		low, high = min(low, y), max(high, y)
	}
	return max(0, high-low+g.Wire.StrandDiameterMM)
}

// stripAid projects the ends and the cut into the picture.
func (g *geometry) stripAid(l lens, b Board) Aid {
	a := Aid{AxisHeightMM: g.AxisMM, BoardHeight: b.HeightMM, PitchDeg: g.PitchDeg, Camera: [3]float64{l.at.X, l.at.Y, l.at.Z},
		Strays: [][][2]float64{}, Tips: [][2]float64{}, Corners: boardCorners(l, b)}
	p, q := g.see(l, vec{g.Strip.LengthMM/2 - 1, 0, 0}), g.see(l, vec{g.Strip.LengthMM/2 + 1, 0, 0})
	a.PXPerMM = hypot(p[0]-q[0], p[1]-q[1]) / 2
	for i := range g.ends {
		a.Tips = append(a.Tips, g.see(l, g.middle(i, g.ends[i].end)))
	}
	for i := range 120 {
		s, c := math.Sincos(radians(3 * float64(i)))
		y, z := g.insulation*c, g.insulation*s
		a.Cut = append(a.Cut, g.see(l, vec{g.cut(y, z), y, z}))
	}
	return a
}
