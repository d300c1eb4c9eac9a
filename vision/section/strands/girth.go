package strands

import "math"

// sides is how many directions a region is measured in.
const sides = 16

// girth is how far a region reaches in evenly spaced directions: the tightest polygon of that many sides about it, nearly
// its convex hull (1.3 % larger for a circle), and two of them are joined in no time.
type girth [sides]float64

var (
	noGirth   girth
	direction [sides][2]float64
)

func init() {
	for i := range direction {
		direction[i][1], direction[i][0] = math.Sincos(2 * math.Pi * float64(i) / sides)
		noGirth[i] = math.Inf(-1)
	}
}

// pixel takes a pixel's square in.
func (g *girth) pixel(x, y float64) {
	for i, d := range direction {
		g[i] = max(g[i], x*d[0]+y*d[1]+(math.Abs(d[0])+math.Abs(d[1]))/2)
	}
}

// add takes another region in.
func (g *girth) add(h *girth) {
	for i, v := range h {
		g[i] = max(g[i], v)
	}
}

// area of the polygon: half the sum of its sides' lengths times their distances from the origin.
func (g *girth) area() float64 {
	const turn = 2 * math.Pi / sides
	s, c := math.Sincos(turn)
	sum := 0.
	for i, h := range g {
		sum += h * (g[(i+1)%sides] + g[(i+sides-1)%sides] - 2*h*c) / s
	}
	return sum / 2
}
