package section

import (
	"math"
	"math/rand/v2"
)

// grains is the texture of etched metal: cells about jittered points, each with a brightness, with darker borders.
// Worley, A cellular texture basis function, SIGGRAPH 1996.
type grains struct {
	kx, ky, sin, cos float64
	size             float64
	twins            float32
	seed             uint64
	points           []grain
}

type grain struct{ x, y, tone, weight float32 }

const grainTable = 128

func newGrains(size, aspect, deg, twins float64, seed uint64) *grains {
	d := dice{rand.New(rand.NewPCG(seed, 9))}
	g := &grains{size: size, kx: 1 / (size * math.Sqrt(aspect)), ky: math.Sqrt(aspect) / size, twins: float32(twins), seed: seed}
	g.sin, g.cos = math.Sincos(radians(deg))
	for range grainTable * grainTable {
		g.points = append(g.points, grain{d.Float32(), d.Float32(), float32(clamp(d.NormFloat64(), -2.2, 2.2)), d.Float32() * 0.35})
	}
	return g
}

// at gives brightness (about -2..2) and closeness to a border (0: far, 1: on it) at a place; turn sets one grain pattern
// apart from another.
func (g *grains) at(x, y float64, turn uint32) (tone, border float32) {
	x, y = x*g.cos+y*g.sin, y*g.cos-x*g.sin
	u, v := x*g.kx+float64(turn&1023), y*g.ky+float64(turn>>10&1023)
	fu, fv := math.Floor(u), math.Floor(v)
	iu, iv := int(fu), int(fv)
	pu, pv := float32(u-fu), float32(v-fv)
	best, second := float32(9), float32(9)
	var hit *grain
	for dy := -1; dy <= 1; dy++ {
		row := ((iv + dy) & (grainTable - 1)) * grainTable
		for dx := -1; dx <= 1; dx++ {
			p := &g.points[row+(iu+dx)&(grainTable-1)]
			ex, ey := float32(dx)+p.x-pu, float32(dy)+p.y-pv
			d := ex*ex + ey*ey - p.weight
			if d < best {
				best, second, hit = d, best, p
			} else if d < second {
				second = d
			}
		}
	}
	tone = hit.tone
	if hit.x < g.twins { // a band with the brightness of another orientation
		s := float64(hit.tone) * 7
		if b := (pu*float32(math.Cos(s)) + pv*float32(math.Sin(s)) + hit.y) * 1.7; b-float32(math.Floor(float64(b))) < 0.3 {
			tone = -tone
		}
	}
	const width = 0.13
	if gap := second - best; gap < width {
		border = 1 - gap/width
	}
	return tone, border
}

// noise is smooth random brightness, 0..1, that changes over one unit (value noise).
func noise(x, y float64, seed uint64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	tx, ty := x-fx, y-fy
	tx, ty = tx*tx*(3-2*tx), ty*ty*(3-2*ty)
	ix, iy := uint64(int64(fx)), uint64(int64(fy))
	at := func(i, j uint64) float64 {
		h := (i*0x9e3779b97f4a7c15 ^ j*0xc2b2ae3d27d4eb4f) + seed
		h = (h ^ h>>32) * 0xd6e8feb86659fd93
		h ^= h >> 32
		return float64(h&0xffffff) / 0xffffff
	}
	a := at(ix, iy) + tx*(at(ix+1, iy)-at(ix, iy))
	b := at(ix, iy+1) + tx*(at(ix+1, iy+1)-at(ix, iy+1))
	return a + ty*(b-a)
}
