package strands

import (
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
	g        *joint
	doubtful map[int32]bool
	uCount   float64
}

// rimDepth is how far from the wall nothing is read, grid px.
const rimDepth = 4

// segment parts the cavity's metal into strands. guess is about how large they are, grid px; 0 where that is not known.
func segment(f *field, void []bool, guess float64) *partition {
	p := &partition{f: f, void: void}
	blur := max(1, f.blur)
	p.evidence = f.lines(f.lineTone(), reachOf(guess), blur, 1.8*blur, 3*blur)
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
	p.top = p.clear(metal)
	var basins int
	p.label, basins = flood(p.landscape(metal), f.in, f.w, f.h)
	g := newGraph(p.label, basins, f, p.void, p.blind, p.evidence, p.top)
	p.solve(g, p.firstRule(g), n, guess)
	return p
}

// clear is the evidence of a clear groove: the 98.5th percentile inside the metal, but at least what a line a tenth
// darker than the strands would give.
func (p *partition) clear(metal []bool) float32 {
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
func (p *partition) firstRule(g *graph) *rule {
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
		r.between[k] = g.apart(k, r.noise[k])
	}
	return r
}
