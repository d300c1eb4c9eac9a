package strands

import (
	"cmp"
	"math"
	"slices"
)

// reach is how far, in grid px, a groove is looked at on either side of a border: a third of a strand's radius, within
// what grooves need and grains allow.
func (p *partition) reach() int {
	return int(min(max(0.32*math.Sqrt(p.g.rule.size/math.Pi), 6), 10))
}

// seam is one place on the border of two strands: the darkness across it, in px of full void.
type seam struct {
	x, y int
	a, b int32
	dark float64
	thin float64 // the same, from close by, and averaged along the border
	mid  bool    // in the middle of its border, where strands press on each other
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
	r := p.reach()
	for y := r; y < f.h-r; y++ {
		for x := r; x < f.w-r; x++ {
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
					if d, ok := p.across(float64(x), float64(y), nx, ny, r); ok {
						thin, ok := p.across(float64(x), float64(y), nx, ny, thinReach)
						if !ok {
							thin = d
						}
						out = append(out, seam{x: x, y: y, a: min(a, b), b: max(a, b), dark: d, thin: thin})
					}
				}
				break
			}
		}
	}
	markMiddles(out)
	return out
}

// markMiddles marks the 40 % of each border's places that are nearest its middle.
func markMiddles(s []seam) {
	order := make([]int, len(s))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Or(cmp.Compare(s[i].a, s[j].a), cmp.Compare(s[i].b, s[j].b)) })
	for from := 0; from < len(order); {
		to, mx, my := from, 0., 0.
		for ; to < len(order) && s[order[to]].a == s[order[from]].a && s[order[to]].b == s[order[from]].b; to++ {
			mx += float64(s[order[to]].x)
			my += float64(s[order[to]].y)
		}
		n := float64(to - from)
		run := order[from:to]
		off := func(i int) float64 { return math.Hypot(float64(s[i].x)-mx/n, float64(s[i].y)-my/n) }
		slices.SortStableFunc(run, func(i, j int) int { return cmp.Compare(off(i), off(j)) })
		for _, i := range run[:len(run)*2/5] {
			s[i].mid = true
		}
		average(s, run)
		from = to
	}
}

// thinReach is how far a gap is looked at, grid px: no farther than its blur.
const thinReach = 6

// average replaces the thin darkness of the places of one border by the mean over those within some pixels.
func average(s []seam, run []int) {
	const near = 4
	mean := make([]float64, len(run))
	for k, i := range run {
		n := 0.
		for _, j := range run {
			if abs(s[i].x-s[j].x) <= near && abs(s[i].y-s[j].y) <= near {
				mean[k] += s[j].thin
				n++
			}
		}
		mean[k] /= n
	}
	for k, i := range run {
		s[i].thin = mean[k]
	}
}

func abs(v int) int { return max(v, -v) }

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

// across integrates the darkness along a line, against the tone at its two ends. It is not ok where these are dark.
func (p *partition) across(x, y, nx, ny float64, reach int) (float64, bool) {
	const step = 0.5
	v := make([]float64, 4*reach+1)
	for k := range v {
		t := (float64(k) - float64(2*reach)) * step
		v[k] = p.f.at(x+t*nx, y+t*ny)
	}
	ends := func(e []float64) float64 {
		s := slices.Clone(e)
		slices.Sort(s)
		return s[len(s)/2]
	}
	n := reach / 2
	l, r := ends(v[:n+2]), ends(v[len(v)-n-2:])
	if min(l, r) < 0.6 {
		return 0, false
	}
	base := (l + r) / 2
	sum := 0.
	for _, t := range v[n : len(v)-n] {
		sum += base - t
	}
	return sum * step / max(base-p.dark(), 0.2), true
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
