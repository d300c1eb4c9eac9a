package strands

import "math"

// temper widens the odds: evidence along one border is not independent, nor are a border's grooves and the sizes.
const temper = 2.0

// many is the uncertainty of a count from which on the partition as a whole is doubtful.
const many = 3

// weigh finds what is doubtful about a partition: borders that might be none, pieces that might be two. It returns the
// expanded uncertainty of the count: the least whole number that at least 95 % of the ways in which these doubts can turn
// out stay within.
func (p *partition) weigh() float64 {
	j := p.g
	p.doubtful = map[int32]bool{}
	members := j.members()
	odds := newOdds()
	n, metal := 0., 0.
	for i := range j.piece {
		q := &j.piece[i]
		if !j.counts(int32(i)) {
			continue
		}
		n++
		metal += float64(q.area)
		for _, c := range j.arcs[i] {
			if int32(i) >= c.to || !j.counts(c.to) {
				continue
			}
			if chance := logistic(j.gain(int32(i), c)); chance > 0.001 {
				odds.add(chance, -1)
				if chance > 0.1 {
					p.doubtful[int32(i)], p.doubtful[c.to] = true, true
				}
			}
		}
		if float64(q.area) < 1.2*j.rule.size || len(members[i]) < 2 {
			continue
		}
		if c := bisect(j.g, j.rule, members[i]); c != nil {
			if chance := logistic(c.cost - q.lone); chance > 0.001 {
				odds.add(chance, 1)
				if chance > 0.1 {
					p.doubtful[int32(i)] = true
				}
			}
		}
	}
	u := odds.within(0.95)
	if u < many {
		return u
	}
	// Where much is doubtful the borders found may be the wrong ones: the metal's area over the median strand's is a
	// second opinion.
	return math.Ceil(math.Hypot(u, n-metal/j.rule.size))
}

// logistic is the chance of what would cost e nats more.
func logistic(e float64) float64 { return 1 / (1 + math.Exp(e/temper)) }

// odds is the distribution of a sum of independent yes-or-no doubts.
type odds struct{ p []float64 }

const oddsReach = 60

func newOdds() *odds {
	o := &odds{p: make([]float64, 2*oddsReach+1)}
	o.p[oddsReach] = 1
	return o
}

// add takes in a doubt that moves the sum by step with a chance.
func (o *odds) add(chance float64, step int) {
	next := make([]float64, len(o.p))
	for i, v := range o.p {
		next[i] += v * (1 - chance)
		next[min(max(i+step, 0), len(o.p)-1)] += v * chance
	}
	o.p = next
}

// within is the least whole number that the sum keeps within with a probability.
func (o *odds) within(share float64) float64 {
	sum := o.p[oddsReach]
	k := 0
	for sum < share && k < oddsReach {
		k++
		sum += o.p[oddsReach-k] + o.p[oddsReach+k]
	}
	return float64(k)
}
