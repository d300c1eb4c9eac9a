package strands

import (
	"math"
	"slices"
)

// seamReach is how far, in grid px, a groove is looked at on either side of a border.
const seamReach = 6

// seam is one place on the border of two strands: the darkness across it, in px of full void.
type seam struct {
	x, y int
	a, b int32
	dark float64
}

// ownerAt is the strand of a pixel, -1 where none.
func (p *partition) ownerAt(i int) int32 {
	if l := p.label[i]; l >= 0 {
		return p.g.owner[l]
	}
	return -1
}

// seams measures the darkness across every border between two strands, where it runs clear of junctions and voids.
func (p *partition) seams() []seam {
	f := p.f
	var out []seam
	for y := seamReach; y < f.h-seamReach; y++ {
		for x := seamReach; x < f.w-seamReach; x++ {
			i := y*f.w + x
			a := p.ownerAt(i)
			if a < 0 {
				continue
			}
			for _, j := range [2]int{i + 1, i + f.w} {
				b := p.ownerAt(j)
				if b < 0 || b == a {
					continue
				}
				if nx, ny, ok := p.normal(x, y, a, b); ok {
					out = append(out, seam{x, y, min(a, b), max(a, b), p.across(float64(x+(j-i)%f.w)/1, float64(y), nx, ny)})
				}
				break
			}
		}
	}
	return out
}

// normal is the direction across the border of a and b near a place: from the one's pixels to the other's. It is not
// ok where a third party is near.
func (p *partition) normal(x, y int, a, b int32) (nx, ny float64, ok bool) {
	const r = 4
	var s [2][2]float64
	var n [2]float64
	for dy := -r; dy <= r; dy++ {
		for dx := -r; dx <= r; dx++ {
			if dx*dx+dy*dy > r*r {
				continue
			}
			k := 0
			switch p.ownerAt((y+dy)*p.f.w + x + dx) {
			case a:
			case b:
				k = 1
			default:
				return 0, 0, false
			}
			s[k][0] += float64(dx)
			s[k][1] += float64(dy)
			n[k]++
		}
	}
	if n[0] < 5 || n[1] < 5 {
		return 0, 0, false
	}
	nx, ny = s[1][0]/n[1]-s[0][0]/n[0], s[1][1]/n[1]-s[0][1]/n[0]
	l := math.Hypot(nx, ny)
	if l < 1e-6 {
		return 0, 0, false
	}
	return nx / l, ny / l, true
}

// across integrates the darkness along a line, against the tone at its two ends.
func (p *partition) across(x, y, nx, ny float64) float64 {
	const step = 0.5
	const n = 2*seamReach/step + 1
	var v [int(n)]float64
	for k := range v {
		t := float64(k)*step - seamReach
		v[k] = p.f.at(x+t*nx, y+t*ny)
	}
	ends := func(e []float64) float64 {
		s := slices.Clone(e)
		slices.Sort(s)
		return s[len(s)/2]
	}
	l, r := ends(v[:5]), ends(v[len(v)-5:])
	base := (l + r) / 2
	sum := 0.
	for k := 4; k < len(v)-4; k++ {
		sum += base - v[k]
	}
	return sum * step / max(base-p.dark(), 0.2)
}

// dark is the voids' tone; where there is none, that of black resin.
func (p *partition) dark() float64 {
	if math.IsNaN(p.f.ground) {
		return 0.2
	}
	return p.f.ground
}

// at interpolates linearly.
func (f *field) at(x, y float64) float64 {
	i, j := min(max(int(x), 0), f.w-2), min(max(int(y), 0), f.h-2)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := j*f.w + i
	top := f.grey[k] + fx*(f.grey[k+1]-f.grey[k])
	low := f.grey[k+f.w] + fx*(f.grey[k+f.w+1]-f.grey[k+f.w])
	return float64(top + fy*(low-top))
}
