package strands

import (
	"cmp"
	"math"
	"slices"
)

// evenness is what one more strand of even size speaks for a size, in nats: the density at the middle of a spread of
// firstSpread against that of any size between a strand in all and 150.
const evenness = 2.3

// scrapCost is what it costs, in nats, when all of the metal lies in pieces too small for a strand.
const scrapCost = 500

// solve finds the strands' size and with it the partition: every size, or those about a guess where there is one, is tried, and what comes out under the likelier
// ones is learned from and tried again, fewer from time to time.
func (p *partition) solve(g *graph, first *rule, metal int, guess float64) {
	const crumb = 0.02 // of a strand: pieces that small are joined to others beforehand
	least, most := float64(metal)/120, 1.2*float64(metal)
	pre := *first
	pre.size = float64(metal) / 150
	if guess > 0 {
		least, most, pre.size = guess/2, min(2*guess, most), guess
	}
	j := newJoint(g, &pre, nil)
	j.join(int(max(crumb*guess, float64(metal)/3000)))
	base, to := g.merged(j.owner)
	for i, l := range p.label {
		if l >= 0 {
			p.label[i] = to[l]
		}
	}
	var trials []trial
	for size := least; size < most; size *= 1.3 {
		r := *first
		r.size = size
		r.hues = 0 // how tones differ is not known yet
		trials = append(trials, try(base, &r, false))
	}
	trials = best(trials, 8)
	for i, t := range trials {
		r := *t.j.rule
		r.evidence = ratios(t.j.tally(scrap * r.size))
		trials[i] = try(base, &r, false)
	}
	trials = best(trials, 3)
	for i, t := range trials {
		for range 2 {
			t = try(base, t.j.learn(p.f.hues()), true)
		}
		trials[i] = t
	}
	trials = best(trials, 3)
	t := trials[0]
	for range 2 {
		t = try(base, t.j.learn(p.f.hues()), true)
	}
	p.g = t.j
	p.unscratch()
	p.uCount = max(p.weigh(), apartBy(trials))
}

// apartBy is how far the counts of the likelier trials lie apart. Where borders are plain, every size that learning begins
// with ends in the same partition.
func apartBy(trials []trial) float64 {
	const likely = 20 // nats
	n := trials[0].j.strands()
	most := 0
	for _, t := range trials[1:] {
		if t.cost < trials[0].cost+likely {
			most = max(most, abs(t.j.strands()-n))
		}
	}
	return float64(most)
}

// trial is a partition and how badly all the evidence fits it.
type trial struct {
	j    *joint
	cost float64
}

// best keeps the n trials of least cost, in order.
func best(t []trial, n int) []trial {
	slices.SortStableFunc(t, func(a, b trial) int { return cmp.Compare(a.cost, b.cost) })
	return t[:min(n, len(t))]
}

// try joins the pieces of a graph under a rule, and where thorough cuts what came out too large.
func try(g *graph, r *rule, thorough bool) trial {
	j := newJoint(g, r, nil)
	j.join(0)
	for range 3 {
		if !thorough || !j.recut() {
			break
		}
		j = newJoint(g, r, j.owner)
		j.join(0)
	}
	j.sweep()
	return trial{j, j.misfit()}
}

// misfit is the negative logarithm of how likely all the evidence is under a partition, and what its pieces cost.
func (j *joint) misfit() float64 {
	border, inner := j.tally(0)
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
	for i := range j.piece {
		q := &j.piece[i]
		if q.area == 0 {
			continue
		}
		e += q.lone + math.Log(j.rule.spread/firstSpread) - evenness
		for _, c := range j.arcs[i] {
			if int32(i) < c.to {
				e -= j.rule.step(q, &j.piece[c.to])
			}
		}
		if float64(q.area) < scrap*j.rule.size {
			scraps += q.area
		}
		all += q.area
	}
	return e + scrapCost*float64(scraps)/float64(all)
}
