package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// bellmouth measures the flare at the rear: how far the sides stand out from their straight lines at the rear edge, and
// over which length. Each side's deviation is fitted by flare·(1 - (x - rear)/length)^p for rear <= x <= rear+length with
// p between a straight cone and a rounded one. Where the part is seen from aside, the foot of the side wall that shows hides
// that side's flare, in part or wholly, and never adds to it: the side that shows more of it counts.
func (b *bench) bellmouth(s sleeve) (flare float64) {
	keys := []record.Key{record.BellmouthLength, record.BellmouthFlare}
	rear := b.atHeight(s.rearX, 0, b.body.top) // the sides are seen at the axis' height
	var best flareFit
	seen := false
	for _, side := range []struct {
		s side
		o outline
	}{{left, s.left}, {right, s.right}} {
		if devs := b.flareOf(side.s, side.o, rear); len(devs) >= 10 {
			if f := fitFlare(devs); !seen || f.flare > best.flare {
				best, seen = f, true
			}
		}
	}
	if !seen {
		for _, k := range keys {
			b.rec.Miss(k, "the sleeve's sides near the rear edge cannot be told from the ground")
		}
		return typicalFlareMM
	}
	b.set(record.BellmouthFlare, best.flare, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: best.uFlare},
		{Name: "definition", Source: "where the flare's rim ends, and what the side wall hides of it", Standard: 0.03},
	})
	b.set(record.BellmouthLength, best.length, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders near the rear edge", Standard: best.uLength},
		{Name: "definition", Source: "where a flare that runs out smoothly begins", Standard: 0.1},
	})
	return best.flare
}

const typicalFlareMM = 0.18

// flareOf lists how far one side stands out from its straight line near the rear edge: X is the distance from there. In each
// slice the border is the mean of the region's and the picture's next to it, or the region's alone where none is near.
func (b *bench) flareOf(s side, o outline, rear float64) (devs []subpixel.Point) {
	const step, farMM, mostMM = 0.1, 2.0, 0.9
	for x := rear + 0.1; x < rear+farMM; x += step {
		base := float64(s) * o.at(x+step/2)
		region, ok := b.sideOfRegion(s, x+step/2, math.Max(0, base-0.4), base+mostMM)
		if !ok {
			continue
		}
		near := region - metalReachMM - 0.2
		e := subpixel.SettleBorder(b.outward(s, x, x+step, near, region+borderReachMM+0.2), (region-near)*b.ppm, b.sideReach(), b.blurPX)
		if at := near + e.Pos/b.ppm; e.Gain > lineGain && math.Abs(at-region) < lineFreeMM {
			region = (region + at) / 2
		}
		devs = append(devs, subpixel.Point{X: x + step/2 - rear, Y: region - base})
	}
	return devs
}

// sideOfRegion is how far outwards the sleeve's region reaches at x, looked for between from and to.
func (b *bench) sideOfRegion(s side, x, from, to float64) (out float64, ok bool) {
	const step = 0.02
	last := b.sleeveShare(x, float64(s)*from)
	if last < 0.5 {
		return 0, false
	}
	for y := from + step; y <= to; y += step {
		share := b.sleeveShare(x, float64(s)*y)
		if share < 0.5 {
			return y - step*(0.5-share)/math.Max(last-share, 1e-9), true
		}
		last = share
	}
	return 0, false
}

// The length over which bellmouths of such sleeves widen, and the spread of its logarithm; common practice, no source.
const usualBellMM, usualBellLn = 0.75, 0.5

type flareFit struct{ flare, length, uFlare, uLength float64 }

// fitFlare fits the flare by search over its length and shape under Cauchy's loss, which lets borders that lie off count
// little. The side's straight line may be off by straightSDMM, and of lengths it is known that they are around usualBellMM.
// Flare and length are the means over all trials, weighted by their likelihood; u is their spread.
func fitFlare(devs []subpixel.Point) flareFit {
	const scale, straightSDMM = 0.03, 0.02
	cost := func(length, p float64) (c, flare float64) {
		off := 0.0
		for range 4 { // amplitude and offset are linear; the robust weights need a few rounds
			m := [2][3]float64{1: {1: sq(scale / straightSDMM)}}
			for _, d := range devs {
				g := shape(d.X/length, p)
				w := 1 / (1 + sq((d.Y-flare*g-off)/scale))
				m[0][0], m[0][1], m[0][2] = m[0][0]+w*g*g, m[0][1]+w*g, m[0][2]+w*g*d.Y
				m[1][0], m[1][1], m[1][2] = m[1][0]+w*g, m[1][1]+w, m[1][2]+w*d.Y
			}
			det := m[0][0]*m[1][1] - m[0][1]*m[1][0]
			if det <= 0 {
				break
			}
			flare = math.Max(0, (m[0][2]*m[1][1]-m[0][1]*m[1][2])/det)
			off = (m[1][2] - m[1][0]*flare) / m[1][1]
		}
		for _, d := range devs {
			c += math.Log1p(sq((d.Y - flare*shape(d.X/length, p) - off) / scale))
		}
		return c + sq(off/straightSDMM) + sq(math.Log(length/usualBellMM)/usualBellLn), flare
	}
	best := math.Inf(1)
	type trial struct{ c, length, flare float64 }
	var all []trial
	for length := 0.25; length <= 2.0; length += 0.05 {
		for _, p := range []float64{1, 1.25, 1.5} {
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
