package strands

import (
	"math"
	"slices"
)

// rule is by what two pieces become one: everything is in nats, positive for "a border is there".
type rule struct {
	evidence  [bins]float64 // of one border pixel
	size      float64       // a strand's area, grid px
	spread    float64       // of its logarithm
	hues      int           // 1 for grey, 3 for colour
	noise     hue           // variance of one pixel's tone as it counts in a mean, grains and all
	floor     hue           // variance that no area averages out: shading
	between   hue           // variance from strand to strand
	roundness float64       // weight of dents
	ragged    float64       // weight of tatters
}

const (
	smallCap = 7.0  // what a piece too small costs at most
	toneCap  = 8.0  // what a difference in tone may say at most
	faint    = 0.02 // share of the borders that nothing shows of
	openSays = 0.3  // what a pixel side in a void says for a border
	openMost = 12   // of them that count
)

// lone is what one piece costs: by its size and by its dents.
func (r *rule) lone(p *piece) float64 {
	return r.bulk(p.area) + r.dents(p)
}

// bulk is the cost of a piece's size.
func (r *rule) bulk(area int) float64 {
	z := math.Log(float64(area)/r.size) / r.spread
	e := z * z / 2
	if z < 0 {
		e = min(e, smallCap)
	}
	return e
}

// dents is the cost of not being convex and of a ragged border. The sides of a convex region's pixels are as many as
// those of the upright rectangle about it, whatever its shape; dents and tatters make them more.
func (r *rule) dents(p *piece) float64 {
	area := float64(p.area)
	if area < 0.3*r.size {
		return 0
	}
	g := &p.girth
	box := 2 * (g[0] + g[sides/2] + g[sides/4] + g[3*sides/4])
	return r.roundness*max(0, 0.875-area/max(g.area(), 1)) + r.ragged*max(0, float64(p.rim)/max(box, 1)-1.15)
}

// says is what a border's pixels speak for it, and that an opening lies between the two: strands that hang together only
// past an opening are hardly one.
func (r *rule) says(b *bond) float64 {
	s := openSays * float64(min(b.void, openMost))
	for i, n := range b.h {
		s += float64(n) * r.evidence[i]
	}
	return s
}

// border is what speaks for a border between two pieces, given what its pixels say.
func (r *rule) border(a, b *piece, says float64) float64 {
	switch {
	case says > 8: // beyond a hundredth of a nat
	case says < -10:
		says = math.Log(faint)
	default:
		says = math.Log(faint + (1-faint)*math.Exp(says))
	}
	return says + r.step(a, b)
}

// step is what the two tones say: Gaussian about nought against Gaussian with the strands' spread added; the first with
// the tails of Student's t with four degrees of freedom, since shading and grains are not Gaussian.
func (r *rule) step(a, b *piece) float64 {
	if a.n < 8 || b.n < 8 {
		return 0
	}
	e := 0.
	for k := range r.hues {
		v := r.floor[k] + r.grain(a, k)/a.n + r.grain(b, k)/b.n
		d := a.sum[k]/a.n - b.sum[k]/b.n
		e += 2.5*math.Log1p(d*d/(4*v)) - d*d/(2*(v+2*r.between[k])) - 0.5*math.Log((v+2*r.between[k])/v)
	}
	// A small piece may be a grain or two.
	most := toneCap * min(1, 2*float64(min(a.area, b.area))/r.size)
	return max(-most/2, min(e, most))
}

// grain is a piece's own variance per pixel, from how its basins differ, held to the picture's.
func (r *rule) grain(p *piece, k int) float64 {
	const trust = 6
	if p.basins < 2 {
		return r.noise[k]
	}
	between := max(0, p.square[k]-p.sum[k]*p.sum[k]/p.n)
	return (trust*r.noise[k] + between) / (trust + p.basins - 1)
}

// joined is the change of the cost when two pieces become one.
func (r *rule) joined(a, b *piece, c arc) float64 {
	u := piece{area: a.area + b.area, girth: a.girth, rim: a.rim + b.rim - 2*int(c.n)}
	u.girth.add(&b.girth)
	return r.lone(&u) - a.lone - b.lone + r.border(a, b, c.e)
}

// firstSpread is the spread of the strands' areas before it is known, of the logarithm.
const firstSpread = 0.2

// scrap is the share of a strand's area below which a piece is none.
const scrap = 0.4

// share of a border's pixels that count as independent: neighbours along it see the same groove or grain.
const share = 0.25

// learn makes a rule from a partition: how large strands are, how borders look and how what is none looks.
func (j *joint) learn(hues int) *rule {
	next := *j.rule
	r := &next
	var areas []float64
	for i := range j.piece {
		if a := float64(j.piece[i].area); a > scrap*r.size {
			areas = append(areas, a)
		}
	}
	if len(areas) == 0 {
		return r
	}
	r.size = median(areas)
	r.spread = spreadOf(areas, r.size)
	r.evidence = ratios(j.tally(scrap * r.size))
	r.hues = hues
	r.between, r.noise = j.tones(r)
	return r
}

// tally tells how often each evidence occurs on the borders of a partition, and on the borders of its graph that it did
// away with.
func (j *joint) tally(least float64) (border, inner [bins]float64) {
	for k := range j.g.bonds {
		e := &j.g.bonds[k]
		a, b := j.owner[e.a], j.owner[e.b]
		to := &border
		switch {
		case a < 0 || b < 0:
			continue
		case a == b:
			to = &inner
		case float64(j.piece[a].area) < least || float64(j.piece[b].area) < least:
			continue
		}
		for i, n := range e.h {
			to[i] += float64(n)
		}
	}
	return border, inner
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
	n := float64(len(areas))
	return min(max((1.48*median(d)*n+0.2*4)/(n+4), 0.12), 0.25)
}

// tones is the variance of the strands' mean tones, and of one pixel within a strand as it counts in a mean.
func (j *joint) tones(r *rule) (between, noise hue) {
	between, noise = r.between, r.noise
	for k := range r.hues {
		var mean, within []float64
		for i := range j.piece {
			q := &j.piece[i]
			if float64(q.area) < scrap*r.size || q.n < 20 {
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
		between[k] = max(math.Pow(1.48*deviation(mean), 2), 1e-5)
		if len(within) > 4 {
			noise[k] = max(median(within), 1e-5)
		}
	}
	return between, noise
}

// median sorts its values.
func median(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)/2]
}
