package strands

import "crimprule/vision/section/raster"

// report puts what was found into px of the input.
func (p *partition) report() Found {
	var out Found
	if p.g == nil {
		return out
	}
	e := p.empty()
	px := float64(p.f.scale * p.f.scale)
	out.Strands = p.strands(e.mask)
	out.Voids = p.voids(e.mask)
	out.UCount = p.uCount
	out.VoidAreaPX = max(0, e.blobs+e.gaps+e.ends+e.corners) * px
	out.UVoidAreaPX = e.u * px
	return out
}

// hollow is a cavity without metal: all void, right to a pixel along its wall.
func (f *field) hollow() Found {
	px := float64(f.scale * f.scale)
	p := partition{f: f}
	out := Found{Voids: p.voids(f.in), VoidAreaPX: float64(f.area) * px}
	for _, d := range distances(f.in, f.w, f.h) {
		if d > 0 && d <= 1 {
			out.UVoidAreaPX += px
		}
	}
	return out
}

// strands describes the pieces that are large enough, voids left out.
func (p *partition) strands(void []bool) []Strand {
	f := p.f
	first := map[int32]int{}
	sum := map[int32]*[3]float64{}
	touch := map[[2]int32]int{}
	metal := make([]int32, len(f.in))
	for i := range metal {
		metal[i] = -1
		if o := p.ownerAt(i); o >= 0 && !void[i] {
			metal[i] = o
		}
	}
	f.trim(metal)
	whole := largest(metal, f.w, f.h, len(p.g.piece))
	for i, o := range metal {
		if o < 0 {
			continue
		}
		s := sum[o]
		if s == nil {
			s = &[3]float64{}
			sum[o] = s
		}
		s[0]++
		s[1] += float64(i % f.w)
		s[2] += float64(i / f.w)
		if _, ok := first[o]; !ok && whole[i] {
			first[o] = i
		}
		for _, j := range [2]int{i + 1, i + f.w} {
			if b := metal[j]; b >= 0 && b != o {
				touch[[2]int32{min(o, b), max(o, b)}]++
			}
		}
	}
	neighbours := map[int32]int{}
	for k, n := range touch {
		if n >= 5 {
			neighbours[k[0]]++
			neighbours[k[1]]++
		}
	}
	var out []Strand
	for o := range int32(len(p.g.piece)) {
		if sum[o] == nil || !p.g.counts(o) {
			continue
		}
		s := sum[o]
		line := f.placed(outline(first[o], f.w, f.h, func(i int) bool { return metal[i] == o && whole[i] }))
		c := f.placed([]raster.Point{{X: s[1] / s[0], Y: s[2] / s[0]}})[0]
		out = append(out, Strand{X: c.X, Y: c.Y, AreaPX: s[0] * float64(f.scale*f.scale), Roundness: roundness(line), Neighbours: neighbours[o], Doubtful: p.doubtful[o], Outline: line})
	}
	return out
}

// trim takes off what is thinner than three pixels: the bright hair line that blur leaves between a void and the wall.
func (f *field) trim(label []int32) {
	in := make([]bool, len(label))
	for i, o := range label {
		in[i] = o >= 0
	}
	const r = 2
	thin := make([]bool, len(label))
	for i, d := range distances(in, f.w, f.h) {
		thin[i] = d < r
	}
	for i, d := range distances(thin, f.w, f.h) {
		if d > r {
			label[i] = -1
		}
	}
}

// largest marks the pixels of each label's largest connected part.
func largest(label []int32, w, h, n int) []bool {
	in := make([]bool, len(label))
	part := make([]int32, len(label))
	for i := range part {
		part[i] = -1
	}
	best := make([]int, n)
	at := make([]int32, n)
	var stack []int
	id := int32(0)
	for s, o := range label {
		if o < 0 || part[s] >= 0 {
			continue
		}
		part[s] = id
		stack = append(stack[:0], s)
		size := 0
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			size++
			for _, j := range [4]int{i - 1, i + 1, i - w, i + w} {
				if j >= 0 && j < len(label) && label[j] == o && part[j] < 0 {
					part[j] = id
					stack = append(stack, j)
				}
			}
		}
		if size > best[o] {
			best[o], at[o] = size, id
		}
		id++
	}
	for i, o := range label {
		in[i] = o >= 0 && part[i] == at[o]
	}
	return in
}

// voids describes the open places wider than the grooves.
func (p *partition) voids(mask []bool) []Void {
	label, sizes := raster.Pieces(raster.Mask{W: p.f.w, H: p.f.h, Pix: mask})
	out := make([]Void, len(sizes)-1)
	seen := make([]bool, len(sizes))
	for i, l := range label {
		if l > 0 && !seen[l] {
			seen[l] = true
			line := p.f.placed(outline(i, p.f.w, p.f.h, func(j int) bool { return label[j] == l }))
			out[l-1] = Void{AreaPX: float64(sizes[l] * p.f.scale * p.f.scale), Outline: line}
		}
	}
	return out
}
