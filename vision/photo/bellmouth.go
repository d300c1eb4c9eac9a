package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// bellmouth measures the flare at the rear: how far the sides stand out from their straight lines at the rear edge, and
// over which length. Each side's deviation is fitted by flare·(1 - (x - rear)/length)^p for rear <= x <= rear+length with
// p between a straight cone and a rounded one; the flare is the mean of both sides.
func (b *bench) bellmouth(s sleeve) {
	keys := []record.Key{record.BellmouthLength, record.BellmouthFlare}
	var devs []subpixel.Point // distance from the rear edge, deviation outwards
	const step = 0.1
	for _, side := range []struct {
		s side
		o outline
	}{{left, s.left}, {right, s.right}} {
		for x := s.rearX + 0.05; x < s.rearX+2.2; x += step {
			out := float64(side.s) * side.o.at(x+step/2)
			near := math.Max(0.3, out-0.5)
			p := b.outward(side.s, x, x+step, near, out+1.5)
			contrast := spreadOf(b.outward(side.s, x, x+step, 0, near), 0, int(near*b.ppm))
			if at, ok := b.groundFrom(p, (out-near-0.12)*b.ppm, contrast); ok {
				devs = append(devs, subpixel.Point{X: x + step/2 - s.rearX, Y: near + at/b.ppm - out})
			}
		}
	}
	if len(devs) < 20 {
		for _, k := range keys {
			b.rec.Miss(k, "the sleeve's sides near the rear edge cannot be told from the ground")
		}
		return
	}
	f := fitFlare(devs)
	b.set(record.BellmouthFlare, f.flare, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: f.uFlare},
		{Name: "definition", Source: "where the flare's rim ends", Standard: 0.04},
		{Name: "angle", Source: "rim seen from aside", Standard: 0.15 * f.flare},
	})
	b.set(record.BellmouthLength, f.length, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: f.uLength},
		{Name: "definition", Source: "where a flare that runs out smoothly begins", Standard: 0.15},
	})
}

// groundFrom finds where the ground begins in a profile outwards: the innermost calm stretch not before from (samples).
func (b *bench) groundFrom(p [][]float64, from, contrast float64) (float64, bool) {
	starts, _ := b.calmStarts(p, from, float64(len(p[0])-1)-calmReachMM*b.ppm, contrast)
	if len(starts) == 0 {
		return 0, false
	}
	return subpixel.SettleBorder(p, starts[0]-b.blurPX, b.sideReach(), b.blurPX).Pos, true
}

type flareFit struct{ flare, length, uFlare, uLength float64 }

// fitFlare fits the flare by search over its length and shape under Cauchy's loss, which lets borders that lie off count
// little. Flare and length are the means over all trials, weighted by their likelihood; u is their spread.
func fitFlare(devs []subpixel.Point) flareFit {
	const scale = 0.06
	cost := func(length, p float64) (c, flare float64) {
		for range 3 { // the amplitude is linear; its robust weights need a few rounds
			w2, wy := 0.0, 0.0
			for _, d := range devs {
				g := shape(d.X/length, p)
				r := (d.Y - flare*g) / scale
				w := 1 / (1 + r*r)
				w2, wy = w2+w*g*g, wy+w*g*d.Y
			}
			if w2 > 0 {
				flare = math.Max(0, wy/w2)
			}
		}
		for _, d := range devs {
			r := (d.Y - flare*shape(d.X/length, p)) / scale
			c += math.Log1p(r * r)
		}
		return c, flare
	}
	best := math.Inf(1)
	type trial struct{ c, length, flare float64 }
	var all []trial
	for length := 0.25; length <= 2.0; length += 0.05 {
		for _, p := range []float64{1, 1.5} {
			c, flare := cost(length, p)
			all = append(all, trial{c, length, flare})
			best = math.Min(best, c)
		}
	}
	var f flareFit
	var sum, mean, square, fm, fq float64
	for _, t := range all {
		w := math.Exp(-(t.c - best) / 2)
		sum, mean, square = sum+w, mean+w*t.length, square+w*t.length*t.length
		fm, fq = fm+w*t.flare, fq+w*t.flare*t.flare
	}
	f.length, f.flare = mean/sum, fm/sum
	f.uLength = math.Sqrt(math.Max(0, square/sum-sq(mean/sum)))
	f.uFlare = math.Sqrt(math.Max(0, fq/sum-sq(fm/sum)))
	return f
}

func shape(t, p float64) float64 {
	if t >= 1 {
		return 0
	}
	return math.Pow(1-t, p)
}
