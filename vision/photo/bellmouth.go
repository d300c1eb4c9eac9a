package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	bellStepMM       = 0.08
	bellClosestMM    = 0.1  // nearer to the rear edge the insulation's shadow lies beside it
	bellFromMM       = 1.9  // from here the side is followed back to the rear edge
	bellMostMM       = 1.4  // a flare longer than this is no flare
	bellMostOut      = 0.5  // nor one that stands out so far
	mostFaintMM      = 0.05 // a side surer than this shows a flare
	leastBellBorders = 14
	bellPower        = 1.3  // between a straight cone and a rounded one
	mostUFlareMM     = 0.12 // less sure than this nothing is known of a flare
	uFlareMM         = 0.015
	uLengthMM        = 0.08
)

// bellmouth follows both sides of the silhouette from the straight part back to the rear edge and fits what they stand
// out by: flare·(1 - x/length)^1.3 from the rear edge on, and each side's own offset from its line.
func (b *bench) bellmouth(s sleeve) {
	var devs [2][]subpixel.Point
	if s.left.u < mostFaintMM {
		devs[0] = b.followBack(left, s.left, b.rearOf(s, left))
	}
	if s.right.u < mostFaintMM {
		devs[1] = b.followBack(right, s.right, b.rearOf(s, right))
	}
	var f flareFit
	enough := len(devs[0])+len(devs[1]) >= leastBellBorders
	if enough {
		f = fitBell(devs)
	}
	if !enough || f.uFlare > mostUFlareMM {
		for _, k := range []record.Key{record.BellmouthLength, record.BellmouthFlare} {
			b.rec.Miss(k, "the sleeve's sides near the rear edge cannot be told from the ground")
		}
		return
	}
	along, _ := b.slopes()
	b.set(record.BellmouthFlare, f.flare, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: f.uFlare},
		{Name: "definition", Source: "where the flare's rim ends", Standard: uFlareMM},
		{Name: "angle", Source: "rim seen from aside", Standard: 0.5 * math.Abs(along)},
	})
	b.set(record.BellmouthLength, f.length, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: f.uLength},
		{Name: "definition", Source: "where a flare that runs out smoothly begins", Standard: uLengthMM},
	})
}

// rearOf is where along x the rear edge of a side is seen. Square to the camera a side lies about as high as the axis;
// seen from aside, one belongs to the wall that faces the camera, the other to the far wall, which stands as much lower.
func (b *bench) rearOf(s sleeve, of side) float64 {
	const clearly, share = 0.05, 0.65 // slope at which that is so; of the wall's height above the axis
	along, across := b.slopes()
	level := b.atHeight(s.rearX, s.middle(s.rearX), b.body.top)
	return level + along*share*b.body.top*float64(of)*min(max(across/clearly, -1), 1)
}

// followBack follows a side from behind the flare to the rear edge, each border near the one before. It gives the distance
// from the rear edge and how far the border stands out of the side's line, mm.
func (b *bench) followBack(s side, o outline, rear float64) (devs []subpixel.Point) {
	const inMM = 0.5
	out := 0.0
	reach := b.sideReach()
	for d := bellFromMM; d > bellClosestMM; d -= bellStepMM {
		x := rear + d
		line := float64(s) * o.at(x)
		if b.strayBeside(s, x, line) {
			continue
		}
		p := b.outward(s, x-bellStepMM/2, x+bellStepMM/2, line-inMM, line+bellMostOut+borderReachMM+0.2)
		at := subpixel.SettleBorder(p, (out+inMM)*b.ppm, reach, b.blurPX).Pos/b.ppm - inMM
		if math.Abs(at-out) > 0.1 || at > bellMostOut {
			continue
		}
		out = at
		devs = append(devs, subpixel.Point{X: d, Y: out})
	}
	return devs
}

// strayBeside tells whether a stray strand lies along or across the side at x.
func (b *bench) strayBeside(s side, x, line float64) bool {
	for d := -0.1; d < 0.4; d += 0.1 {
		if b.part.Regions.At(part.Strays, b.frame, x, float64(s)*(line+d)) > 0.3 {
			return true
		}
	}
	return false
}

// fitBell fits both sides' deviations by search over the flare's length. Flare and length are the means over all lengths,
// weighted by their likelihood under Cauchy's loss, in which borders that lie off count little; u is their spread.
func fitBell(devs [2][]subpixel.Point) (f flareFit) {
	var all []bellTrial
	for length := 0.2; length <= bellMostMM; length += 0.02 {
		all = append(all, tryBell(devs, length, 0.03))
	}
	best := all[0]
	for _, t := range all {
		if t.cost < best.cost {
			best = t
		}
	}
	scale := math.Max(0.008, best.scatter)
	least := math.Inf(1)
	for k, t := range all {
		all[k] = tryBell(devs, t.length, scale)
		least = math.Min(least, all[k].cost)
	}
	var w, l, ll, h, hh float64
	for _, t := range all {
		k := math.Exp(-(t.cost - least) / 2) // neighbours share half their pixels and the ground's grain
		w, l, ll, h, hh = w+k, l+k*t.length, ll+k*t.length*t.length, h+k*t.flare, hh+k*t.flare*t.flare
	}
	f.length, f.flare = l/w, h/w
	f.uLength = math.Sqrt(math.Max(0, ll/w-sq(l/w)))
	f.uFlare = math.Hypot(math.Sqrt(math.Max(0, hh/w-sq(h/w))), scale/2)
	return f
}

type bellTrial struct{ length, flare, cost, scatter float64 }

// tryBell fits flare and both offsets for a length by reweighted least squares.
func tryBell(devs [2][]subpixel.Point, length, scale float64) bellTrial {
	t := bellTrial{length: length}
	var offset [2]float64
	var residuals []float64
	for range 8 {
		var m [3][4]float64
		t.cost, residuals = 0, residuals[:0]
		for side, points := range devs {
			for _, p := range points {
				f := [3]float64{shape(p.X/length, bellPower)}
				f[1+side] = 1
				r := p.Y - t.flare*f[0] - offset[side]
				residuals = append(residuals, r)
				t.cost += math.Log1p(sq(r / scale))
				w := 1 / (1 + sq(r/scale))
				for i := range 3 {
					for j := range 3 {
						m[i][j] += w * f[i] * f[j]
					}
					m[i][3] += w * f[i] * p.Y
				}
			}
		}
		for i := range 3 {
			m[i][i] += 1e-6
		}
		c := solve3(m)
		t.flare, offset = math.Max(0, c[0]), [2]float64{c[1], c[2]}
	}
	t.scatter = subpixel.MAD(residuals)
	return t
}

type flareFit struct{ flare, length, uFlare, uLength float64 }

// shape is how a flare runs out.
func shape(t, p float64) float64 {
	if t >= 1 {
		return 0
	}
	return math.Pow(1-t, p)
}
