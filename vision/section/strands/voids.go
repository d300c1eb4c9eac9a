package strands

import (
	"math"
	"slices"
)

// openings marks the dark places that are wider than the grooves: dark pixels, opened by a disc of radius r, grid px;
// with r = 0 by one that follows from how wide dark places mostly are.
func (f *field) openings(r float64) []bool {
	void := make([]bool, len(f.in))
	if math.IsNaN(f.ground) {
		return void
	}
	cut := float32((1 + f.ground) / 2)
	dark := make([]bool, len(f.in))
	for i, in := range f.in {
		dark[i] = in && f.grey[i] < cut
	}
	d := distances(dark, f.w, f.h)
	if r == 0 {
		r = f.usual(d)
	}
	far := make([]bool, len(f.in))
	for i := range far {
		far[i] = float64(d[i]) < r
	}
	back := distances(far, f.w, f.h)
	for i := range void {
		void[i] = dark[i] && float64(back[i]) < r
	}
	return void
}

// usual is a radius that the dark places mostly fall short of.
func (f *field) usual(d []float32) float64 {
	var ridge []float32
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			i := y*f.w + x
			if v := d[i]; v > 0 && v >= d[i-1] && v >= d[i+1] && v >= d[i-f.w] && v >= d[i+f.w] {
				ridge = append(ridge, v)
			}
		}
	}
	slices.Sort(ridge)
	return max(2, 1.5*float64(quantile(ridge, 0.5))+1)
}

// gapShare is how much of the darkness at the places where there is least of it is gap; the rest is groove even there.
const gapShare = 0.64

// void is what is empty, in px of the grid.
type emptiness struct {
	blobs, gaps, ends, corners float64
	gap, width                 float64 // px: what is open along every border, and the mean darkness across one
	groove                     float64 // px: what of it is groove
	u                          float64 // expanded, of the sum
	mask                       []bool
	length, wall, wide         float64
	rims                       float64 // px: along the voids' rims
}

// empty measures what is empty.
func (p *partition) empty() emptiness {
	var e emptiness
	seams := p.seams()
	e.measure(seams)
	e.mask = p.f.openings(max(1.5, 0.6*e.wide+0.5))
	near := make([]bool, len(e.mask))
	for i, v := range e.mask {
		near[i] = !v
	}
	off := distances(near, p.f.w, p.f.h)
	e.blobs, e.rims = p.blobs(e.mask, off, e.groove/2)
	e.length, e.wall = p.lengths(off)
	e.gaps = e.gap * (e.length + e.wall/2)
	e.ends = e.widening(seams, off, p.f.w) * e.length
	e.corners = p.corners(seams, off, e.width)
	e.u = e.spread()
	return e
}

// spread is the expanded uncertainty of the sum: of what is gap and what is groove along the borders (0.18 px, and a share
// of the gaps, since an even groove looks like one), of grooves taken for voids, and of the voids' rims, which rounded
// edges darken. The shares are those found on drawn sections.
func (e *emptiness) spread() float64 {
	length := e.length + e.wall/2
	return 2 * math.Sqrt(square(0.18*length)+square(0.45*e.gaps)+square(0.06*e.groove*length)+
		square(0.3*e.ends)+square(0.08*e.blobs)+square(0.15*e.rims)+square(0.5*e.corners))
}

func square(v float64) float64 { return v * v }

// measure finds what is gap and what is groove on all borders.
func (e *emptiness) measure(seams []seam) {
	var thin, mid, end []float64
	sum, n := [2]float64{}, [2]float64{}
	for _, s := range seams {
		thin = append(thin, s.thin)
		e.width += s.dark / float64(len(seams))
		k := 0
		if s.mid {
			k = 1
			mid = append(mid, s.dark)
		} else {
			end = append(end, s.dark)
		}
		sum[k] += s.dark
		n[k]++
	}
	if len(mid) < 20 {
		return
	}
	slices.Sort(thin)
	slices.Sort(mid)
	slices.Sort(end)
	e.gap = max(0, gapShare*thin[len(thin)/20])
	e.width = max(e.width, e.gap)
	// Where strands hardly press on each other, their borders part towards the ends, and a wide middle is open too.
	apart := (sum[0] / n[0]) / max(sum[1]/n[1], 0.1)
	part := end[len(end)/2] / max(mid[len(mid)/2], 0.1)
	open := max(0, min((min(part, apart)-1.15)/0.15, 1))
	q := 0.95 - 0.45*open
	e.groove = max(0, (1-open)*e.width+open*mid[len(mid)/2]-e.gap)
	e.wide = mid[int(float64(len(mid))*q)] / max(1, apart)
}

// widening is how much wider the borders are over all than at their middles, places in and at voids left out.
func (e *emptiness) widening(seams []seam, off []float32, w int) float64 {
	all, mid, n, m := 0., 0., 0., 0.
	for _, s := range seams {
		if off[s.y*w+s.x] < blobRim {
			continue
		}
		all += s.dark
		n++
		if s.mid {
			mid += s.dark
			m++
		}
	}
	if m < 10 {
		return 0
	}
	return max(0, all/n-mid/m)
}

const blobRim = 3 // px about a void in which its blurred rim lies

// blobs is the area of the voids: all that lies deep in them, and soft darkness about their rims, less the groove along
// the strands' rims, and how long these rims are. Resin and its fillers vary in tone, so what full darkness is follows from the voids' own median.
func (p *partition) blobs(mask []bool, off []float32, rim float64) (sum, rims float64) {
	f := p.f
	deep := distances(mask, f.w, f.h)
	var tones []float32
	for i, d := range deep {
		if d >= 2 {
			tones = append(tones, f.grey[i])
		}
	}
	dark := p.dark()
	if len(tones) >= 30 {
		slices.Sort(tones)
		dark = min(float64(quantile(tones, 0.5)), 0.7)
	}
	for i, in := range f.in {
		switch {
		case !in || off[i] > blobRim:
		case deep[i] >= 2:
			sum++
		default:
			sum += max(0, min((1-float64(f.grey[i]))/(1-dark), 1))
			if off[i] > 0 && off[i] <= 1 {
				sum -= rim
				rims++
			}
		}
	}
	return max(sum, 0), rims
}

// lengths of the borders between strands and of those along the sleeve, voids left out. Steps between pixels make
// lines 4/pi too long on the mean over all directions.
func (p *partition) lengths(off []float32) (borders, wall float64) {
	f := p.f
	for i := f.w; i < len(f.in)-f.w; i++ {
		if off[i] < blobRim {
			continue
		}
		a := p.ownerAt(i)
		for _, j := range [2]int{i + 1, i + f.w} {
			if off[j] < blobRim {
				continue
			}
			b := p.ownerAt(j)
			switch {
			case a >= 0 && b >= 0 && a != b:
				borders++
			case (a >= 0) != (b >= 0) && f.in[i] != f.in[j]:
				wall++
			}
		}
	}
	return borders * math.Pi / 4, wall * math.Pi / 4
}

// corners is what is open where three strands meet, beyond what their grooves give.
func (p *partition) corners(seams []seam, off []float32, width float64) float64 {
	type pair struct{ a, b int32 }
	sum, n := map[pair]float64{}, map[pair]float64{}
	for _, s := range seams {
		sum[pair{s.a, s.b}] += s.dark
		n[pair{s.a, s.b}]++
	}
	mean := func(a, b int32) float64 {
		k := pair{min(a, b), max(a, b)}
		return (sum[k] + 3*width) / (n[k] + 3)
	}
	const r = 6
	f := p.f
	total := 0.
	used := make([]bool, len(f.in))
	for y := r; y < f.h-r; y++ {
		for x := r; x < f.w-r; x++ {
			i := y*f.w + x
			if off[i] < r+blobRim || used[i] {
				continue
			}
			who := map[int32]bool{p.ownerAt(i): true, p.ownerAt(i + 1): true, p.ownerAt(i + f.w): true, p.ownerAt(i + f.w + 1): true}
			if len(who) < 3 || who[-1] {
				continue
			}
			excess, ok := p.corner(x, y, r, mean)
			for dy := -r / 2; dy <= r/2; dy++ {
				for dx := -r / 2; dx <= r/2; dx++ {
					used[(y+dy)*f.w+x+dx] = true
				}
			}
			if ok {
				total += excess + 0.433*width*width
			}
		}
	}
	return total
}

// corner is the darkness in a disc less what the borders in it give.
func (p *partition) corner(cx, cy, r int, mean func(a, b int32) float64) (float64, bool) {
	f := p.f
	sum := 0.
	for y := cy - r; y <= cy+r; y++ {
		for x := cx - r; x <= cx+r; x++ {
			if (x-cx)*(x-cx)+(y-cy)*(y-cy) > r*r {
				continue
			}
			i := y*f.w + x
			a := p.ownerAt(i)
			if a < 0 {
				return 0, false
			}
			q := &p.g.piece[a]
			base := 1.
			if q.n > 0 {
				base = q.sum[0] / q.n
			}
			sum += (base - float64(f.grey[i])) / max(base-p.dark(), 0.2)
			for _, j := range [2]int{i + 1, i + f.w} {
				if b := p.ownerAt(j); b >= 0 && b != a {
					sum -= mean(a, b) * math.Pi / 4
				}
			}
		}
	}
	return sum, true
}
