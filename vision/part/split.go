package part

import "math"

const (
	leastSleeveMM2 = 5.0 // of a crimp that is told from the ground
	leastBareMM2   = 4.0 // of a stripped wire's bare strands
	sameMM         = 4.0 // two parts side by side lie farther apart than this, two looks at one part do not
)

// split takes apart what runs together though it is more than one part, as where the ground between two wires is taken for
// insulation. Parts are told by their sleeves, or by their bare strands where there is no sleeve: pieces that do not touch,
// each large enough for a part of its own. Every pixel goes to the nearest of them.
func (o *overview) split(pixels []int) [][]int {
	middles := o.pieces(pixels, leastSleeveMM2, Sleeve, Through)
	if len(middles) == 0 {
		middles = o.pieces(pixels, leastBareMM2, Conductor)
	}
	if len(middles) < 2 {
		return [][]int{pixels}
	}
	w := o.shares[0].W
	parts := make([][]int, len(middles))
	for _, p := range pixels {
		best, least := 0, math.Inf(1)
		for k, m := range middles {
			if d := math.Hypot(float64(p%w)-m[0], float64(p/w)-m[1]); d < least {
				best, least = k, d
			}
		}
		parts[best] = append(parts[best], p)
	}
	return parts
}

// pieces gives the middles, in pixels of the overview, of the pieces of some classes among pixels that are at least so large.
func (o *overview) pieces(pixels []int, leastMM2 float64, classes ...Class) (middles [][2]float64) {
	w, h := o.shares[0].W, o.shares[0].H
	seen := make([]bool, w*h)
	for i := range seen {
		seen[i] = true
	}
	for _, p := range pixels {
		class, _ := o.part(p)
		for _, c := range classes {
			seen[p] = seen[p] && class != c
		}
	}
	for _, p := range pixels {
		if seen[p] {
			continue
		}
		piece := o.flood(p, w, h, seen)
		if float64(len(piece))/o.ppm/o.ppm < leastMM2 {
			continue
		}
		var m [2]float64
		for _, q := range piece {
			m[0], m[1] = m[0]+float64(q%w), m[1]+float64(q/w)
		}
		middles = append(middles, [2]float64{m[0] / float64(len(piece)), m[1] / float64(len(piece))})
	}
	return middles
}

// same tells whether two finds are looks at one part.
func same(a, b Part) bool {
	p, q := a.Frame.World((a.RearX+a.FrontX)/2, 0, 0), b.Frame.World((b.RearX+b.FrontX)/2, 0, 0)
	return math.Hypot(p.X-q.X, p.Y-q.Y) < sameMM
}
