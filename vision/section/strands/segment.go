package strands

import (
	"cmp"
	"math"
	"slices"
)

// partition is the cavity told apart.
type partition struct {
	f        *field
	void     []bool
	blind    []bool // in voids and along the wall, where no border is read
	evidence []float32
	top      float32 // evidence of a clear groove
	label    []int32 // basin of each pixel, -1 outside and in voids
	g        *graph
	doubtful map[int32]bool
	uCount   float64
}

// rimDepth is how far from the wall nothing is read, grid px.
const rimDepth = 4

// segment parts the cavity's metal into strands.
func segment(f *field, void []bool) *partition {
	p := &partition{f: f, void: void}
	p.evidence = valleys(f.grey, f.w, f.h, max(1, f.blur), max(1, f.blur)*1.8, max(1, f.blur)*3)
	// Along the wall the mask may hold the groove or even the sleeve: nothing is read there.
	wall := distances(f.in, f.w, f.h)
	metal := make([]bool, len(f.in))
	p.blind = make([]bool, len(f.in))
	n := 0
	for i, in := range f.in {
		p.blind[i] = void[i] || in && wall[i] < rimDepth
		metal[i] = in && !p.blind[i]
		if in && !void[i] {
			n++
		}
	}
	if n == 0 {
		return p
	}
	p.top = p.scaleOf(metal)
	var basins int
	p.label, basins = flood(p.landscape(metal), f.in, f.w, f.h)
	p.g = newGraph(p.label, basins, f, p.void, p.blind, p.evidence, p.top)
	p.g.rule = p.firstRule()
	p.solve(n)
	return p
}

// scaleOf is the evidence of a clear groove: the 98.5th percentile inside the metal, but at least what a line a tenth
// darker than the strands would give.
func (p *partition) scaleOf(metal []bool) float32 {
	var v []float32
	for i, in := range metal {
		if in && i%3 == 0 {
			v = append(v, p.evidence[i])
		}
	}
	slices.Sort(v)
	return max(quantile(v, 0.985), 0.04)
}

// landscape is what is flooded: the evidence, and a dome over every place far from it, so that a gap in a groove is
// closed at the neck.
func (p *partition) landscape(metal []bool) []float32 {
	clear := make([]bool, len(metal))
	for i, in := range metal {
		clear[i] = in && p.evidence[i] < 0.5*p.top
	}
	d := distances(clear, p.f.w, p.f.h)
	var ridge []float32
	for _, v := range d {
		if v > 2 {
			ridge = append(ridge, v)
		}
	}
	slices.Sort(ridge)
	reach := max(quantile(ridge, 0.98), 3)
	steps := p.f.steps(metal)
	out := make([]float32, len(metal))
	for i := range out {
		switch {
		case p.blind[i]:
			out[i] = 1
		case metal[i]:
			out[i] = 0.3 + 0.65*min(max(p.evidence[i]/p.top, steps[i]), 1) - 0.3*min(d[i]/reach, 1)
		}
	}
	return out
}

// firstRule is the rule before anything is known of this picture's borders.
func (p *partition) firstRule() *rule {
	r := &rule{spread: firstSpread, roundness: 25, ragged: 12, floor: hue{1e-4, 4e-5, 4e-5}}
	r.hues = p.f.hues()
	for i := range r.evidence {
		e := (float64(i) + 0.5) / bins
		r.evidence[i] = max(-0.5, min(2.5*(e-0.3), 0.7))
	}
	// A pixel's noise, and grains about a dozen pixels large.
	var spread [3][]float32
	w := p.f.w
	for i, l := range p.label {
		if l >= 0 && i >= w && p.label[i-w] == l && p.evidence[i] < 0.25*p.top && i%2 == 0 && i > 3*w && p.label[i-3*w] == l && p.evidence[i-3*w] < 0.25*p.top {
			a, b := p.f.hueAt(i), p.f.hueAt(i-3*w)
			for k := range a {
				spread[k] = append(spread[k], float32((a[k]-b[k])*(a[k]-b[k])/2))
			}
		}
	}
	for k := range spread {
		m := 0.
		for _, v := range spread[k] {
			m += float64(v)
		}
		r.noise[k] = 20*m/math.Max(float64(len(spread[k])), 1) + 1e-5
		r.between[k] = p.g.apart(k, r.noise[k])
	}
	return r
}

// apart is the variance from strand to strand of one part of the tone, guessed from the basins': what their means
// differ by beyond the noise.
func (g *graph) apart(k int, noise float64) float64 {
	var mean []float64
	n := 0.
	for _, q := range g.piece {
		if q != nil && q.n >= 15 {
			mean = append(mean, q.sum[k]/q.n)
			n += 1 / q.n
		}
	}
	if len(mean) < 5 {
		return 1e-4
	}
	slices.Sort(mean)
	half := (mean[len(mean)*3/4] - mean[len(mean)/4]) / 1.349
	return max(half*half-noise*n/float64(len(mean)), 2e-5)
}

// solve finds the strands' size and with it the partition: every size is tried coarsely, the three best are learned
// from, and the best of these is worked out on the finest basins.
func (p *partition) solve(metal int) {
	fine := p.g
	base := fine.clone()
	base.rule.size = float64(metal) / 150
	base.join(metal / 1000)
	base, to := base.compact()
	var trials []trial
	for size := float64(metal) / 120; size < 1.2*float64(metal); size *= 1.3 {
		rule := *base.rule
		rule.size = size
		rule.hues = 0 // how tones differ is not known yet
		trials = append(trials, p.try(base, &rule, false))
	}
	byCost := func(a, b trial) int { return cmp.Compare(a.cost, b.cost) }
	slices.SortStableFunc(trials, byCost)
	trials = trials[:min(8, len(trials))]
	for i, t := range trials {
		again := *t.g.rule
		again.evidence = ratios(counts(base, t.g, scrap*again.size))
		trials[i] = p.try(base, &again, false)
	}
	slices.SortStableFunc(trials, byCost)
	trials = trials[:min(3, len(trials))]
	for i, t := range trials {
		for range 2 {
			t = p.try(base, p.learn(base, t.g), true)
		}
		trials[i] = t
	}
	slices.SortStableFunc(trials, byCost)
	best := trials[0]
	best.g.owner = spreadOut(best.g.owner, to)
	for range 2 {
		best = p.try(fine, p.learn(fine, best.g), true)
	}
	best.g.sweep()
	p.g = best.g
	p.unscratch()
	p.uCount = p.weigh(fine)
}

// trial is a partition and how badly all the evidence fits it.
type trial struct {
	g    *graph
	cost float64
}

// try joins the pieces of a fine graph under a rule, and where thorough cuts what came out too large.
func (p *partition) try(fine *graph, r *rule, thorough bool) trial {
	g := fine.clone()
	g.rule = r
	g.join(0)
	for range 3 {
		if !thorough || !g.recut(fine) {
			break
		}
		g = fine.rebuilt(g.owner, r)
		g.join(0)
	}
	g.sweep()
	return trial{g, misfit(fine, g)}
}

// share of a border's pixels that count as independent: neighbours along it see the same groove or grain.
const share = 0.25

// learn makes a rule from a partition: how large strands are, how borders look and how what is none looks.
func (p *partition) learn(fine, now *graph) *rule {
	next := *now.rule
	r := &next
	var areas []float64
	for _, q := range now.piece {
		if q != nil && float64(q.area) > scrap*r.size {
			areas = append(areas, float64(q.area))
		}
	}
	if len(areas) == 0 {
		return r
	}
	slices.Sort(areas)
	r.size = areas[len(areas)/2]
	r.spread = spreadOf(areas, r.size)
	r.evidence = ratios(counts(fine, now, scrap*r.size))
	r.hues = p.f.hues()
	r.between, r.noise = now.tones(r)
	return r
}

// evenness is what one more strand of even size speaks for a size, in nats: the density at the middle of a spread of
// firstSpread against that of any size between a strand in all and 150.
const evenness = 2.3

// firstSpread is the spread of the strands' areas before it is known, of the logarithm.
const firstSpread = 0.2

// scrap is the share of a strand's area below which a piece is none.
const scrap = 0.4

// scrapCost is what it costs, in nats, when all of the metal lies in pieces too small for a strand.
const scrapCost = 500

// counts tells how often each evidence occurs on the borders of a partition, and on the borders of the finer one that it
// did away with.
func counts(fine, now *graph, least float64) (border, inner [bins]float64) {
	for i, q := range now.piece {
		if q == nil || float64(q.area) < least {
			continue
		}
		for j, h := range q.borders {
			if int32(i) < j && float64(now.piece[j].area) >= least {
				for k, n := range h {
					border[k] += float64(n)
				}
			}
		}
	}
	for i, q := range fine.piece {
		if q == nil {
			continue
		}
		for j, h := range q.borders {
			if int32(i) < j && now.owner[i] == now.owner[j] {
				for k, n := range h {
					inner[k] += float64(n)
				}
			}
		}
	}
	return border, inner
}

// misfit is the negative logarithm of how likely all the evidence is under a partition, and what its pieces cost.
func misfit(fine, now *graph) float64 {
	border, inner := counts(fine, now, 0)
	e, scraps, all := 0., 0, 0
	for _, h := range [][bins]float64{border, inner} {
		n := 0.
		for _, v := range h {
			n += v
		}
		for _, v := range h {
			if v > 0 {
				e -= share * v * math.Log(v/n)
			}
		}
	}
	for i, q := range now.piece {
		if q != nil {
			e += now.rule.lone(q) + math.Log(now.rule.spread/firstSpread) - evenness
			for _, j := range q.neighbours() {
				if int32(i) < j {
					e -= now.rule.step(q, now.piece[j])
				}
			}
			if float64(q.area) < scrap*now.rule.size {
				scraps += q.area
			}
			all += q.area
		}
	}
	return e + scrapCost*float64(scraps)/float64(all)
}

// ratios is the logarithm of how much likelier each evidence is on a border than inside a strand: never falling, and
// held to a plain slope where there is little to count.
func ratios(border, inner [bins]float64) [bins]float64 {
	const weight = 100 // pixels that the slope is worth
	b, n := 0., 0.
	for k := range border {
		b += border[k]
		n += inner[k]
	}
	var out [bins]float64
	for k := range out {
		x := (float64(k) + 0.5) / bins
		pb := (border[k] + weight*2*x/bins) / (b + weight)
		pn := (inner[k] + weight*2*(1-x)/bins) / (n + weight)
		out[k] = share * max(-3, min(math.Log(pb/pn), 4))
		if k > 0 {
			out[k] = max(out[k], out[k-1])
		}
	}
	return out
}

// spreadOf is the spread of the areas' logarithm, from the half nearest the median, within what drawn wire allows.
func spreadOf(areas []float64, size float64) float64 {
	d := make([]float64, len(areas))
	for i, a := range areas {
		d[i] = math.Abs(math.Log(a / size))
	}
	slices.Sort(d)
	n := float64(len(areas))
	return min(max((1.48*d[len(d)/2]*n+0.2*4)/(n+4), 0.12), 0.25)
}

// tones is the variance of the strands' mean tones, and of one pixel within a strand as it counts in a mean.
func (g *graph) tones(r *rule) (between, noise hue) {
	between, noise = r.between, r.noise
	for k := range r.hues {
		var mean, within []float64
		for _, q := range g.piece {
			if q == nil || float64(q.area) < scrap*r.size || q.n < 20 {
				continue
			}
			mean = append(mean, q.sum[k]/q.n)
			if q.basins > 3 {
				within = append(within, max(0, q.square[k]-q.sum[k]*q.sum[k]/q.n)/(q.basins-1))
			}
		}
		if len(mean) < 5 {
			continue
		}
		slices.Sort(mean)
		m := mean[len(mean)/2]
		dev := make([]float64, len(mean))
		for i, v := range mean {
			dev[i] = math.Abs(v - m)
		}
		slices.Sort(dev)
		between[k] = max(math.Pow(1.48*dev[len(dev)/2], 2), 1e-5)
		if len(within) > 4 {
			slices.Sort(within)
			noise[k] = max(within[len(within)/2], 1e-5)
		}
	}
	return between, noise
}

// sweep unites what is far too small for a strand with the neighbour it is least parted from.
func (g *graph) sweep() {
	for {
		small := -1
		for i, q := range g.piece {
			if q != nil && float64(q.area) < scrap*g.rule.size && len(q.borders) > 0 && (small < 0 || q.area < g.piece[small].area) {
				small = i
			}
		}
		if small < 0 {
			return
		}
		q := g.piece[small]
		to, least := int32(-1), math.Inf(1)
		for _, j := range q.neighbours() {
			if e := g.rule.joined(g.piece[j], q, q.borders[j]); e < least {
				to, least = j, e
			}
		}
		g.unite(to, int32(small))
	}
}
