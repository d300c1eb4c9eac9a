package drawn

import "math"

const inchMM = 25.4 // exactly, by the international yard of 1959 (from memory)

// marks gives how much of the spot of width px (mm) about a place of the rule (u along it, v across from its middle) is
// printed: 0 to 1.
func (k *Rule) marks(u, v, px float64) float64 {
	along := u + k.LengthMM/2 - k.MarginMM + k.FirstMM // what the graduation says here
	down := k.WidthMM/2 - v                            // from the graduated edge
	if k.Inch {
		return max(k.ticks(along, down, px, inchMM/16, 4, 8, 16), k.numbers(along, down, px, inchMM, 1))
	}
	c := max(k.ticks(along, down, px, 1, 5, 5, 10), k.numbers(along, down, px, 10, k.step()))
	if k.BothEdges {
		c = max(c, k.ticks(along, k.WidthMM-down, px, 0.5, 2, 10, 20))
	}
	return c
}

func (k *Rule) step() float64 {
	if k.Millimetres {
		return 10
	}
	return 1
}

// ticks draws marks at multiples of pitch; every a-th is longer, every b-th longer still, every c-th longest.
func (k *Rule) ticks(along, down, px, pitch float64, a, b, c int) float64 {
	n := math.Round(along / pitch)
	if n < 0 || along < -pitch/2 {
		return 0
	}
	long := 0.24
	switch i := int(n); {
	case i%c == 0:
		long = 0.48
	case i%b == 0:
		long = 0.38
	case i%a == 0:
		long = 0.32
	}
	// The marks' length goes by the rule's width, as on real ones; thin ones on the finer edge.
	length, wide := min(long*k.WidthMM, 14*long), k.TickMM
	if pitch < 0.9 {
		wide *= 0.75
	}
	return covered(along-n*pitch, wide, px) * covered(down-length/2, length, px)
}

// covered is the share of a spot of width px about x that a bar of that width about 0 covers.
func covered(x, width, px float64) float64 {
	return clamp((min(x+px/2, width/2)-max(x-px/2, -width/2))/px, 0, 1)
}

// numbers writes the count of each pitch beyond the longest marks.
func (k *Rule) numbers(along, down, px, pitch, step float64) float64 {
	n := math.Round(along / pitch)
	if n < 1 {
		return 0
	}
	high := k.DigitMM
	text := digits(int(n * step))
	wide := high * 0.62
	top := min(0.48*k.WidthMM, 6.7) + 0.25*high
	y := (down - top) / high // 0 at the digits' top, 1 at their foot
	x := (along-n*pitch)/wide + float64(len(text))/2
	i := int(math.Floor(x))
	if y < -0.2 || y > 1.2 || i < 0 || i >= len(text) {
		return 0
	}
	best := math.Inf(1)
	for _, line := range glyphs[text[i]] {
		for j := 3; j < len(line); j += 2 {
			best = min(best, segment((x-float64(i)-0.18)*wide, y*high, line[j-3]*wide*0.64, line[j-2]*high, line[j-1]*wide*0.64, line[j]*high))
		}
	}
	return covered(best, high*0.12, px)
}

// segment is the distance from (x, y) to the line from (ax, ay) to (bx, by).
func segment(x, y, ax, ay, bx, by float64) float64 {
	x, y, bx, by = x-ax, y-ay, bx-ax, by-ay
	t := clamp((x*bx+y*by)/(bx*bx+by*by), 0, 1)
	return hypot(x-t*bx, y-t*by)
}

func digits(n int) []int {
	if n < 10 {
		return []int{n}
	}
	return append(digits(n/10), n%10)
}

// glyphs are the digits as chains of points x, y in a unit box, y down.
var glyphs = [10][][]float64{
	{{0.5, 0, 0.85, 0.12, 1, 0.4, 1, 0.6, 0.85, 0.88, 0.5, 1, 0.15, 0.88, 0, 0.6, 0, 0.4, 0.15, 0.12, 0.5, 0}},
	{{0.15, 0.2, 0.55, 0, 0.55, 1}},
	{{0.03, 0.25, 0.2, 0.05, 0.5, 0, 0.85, 0.07, 0.97, 0.28, 0.8, 0.52, 0, 1, 1, 1}},
	{{0.03, 0.1, 0.45, 0, 0.85, 0.08, 0.93, 0.27, 0.75, 0.44, 0.4, 0.48}, {0.4, 0.48, 0.85, 0.54, 1, 0.74, 0.85, 0.94, 0.45, 1, 0, 0.9}},
	{{0.72, 1, 0.72, 0, 0, 0.7, 1, 0.7}},
	{{0.92, 0, 0.15, 0, 0.08, 0.45, 0.5, 0.38, 0.9, 0.5, 1, 0.7, 0.88, 0.92, 0.45, 1, 0, 0.9}},
	{{0.85, 0.02, 0.4, 0.12, 0.08, 0.45, 0.02, 0.75, 0.2, 0.97, 0.55, 1, 0.9, 0.9, 0.98, 0.68, 0.85, 0.48, 0.5, 0.43, 0.15, 0.52}},
	{{0, 0, 1, 0, 0.35, 1}},
	{{0.5, 0.46, 0.15, 0.36, 0.1, 0.14, 0.5, 0, 0.9, 0.14, 0.85, 0.36, 0.5, 0.46, 0.08, 0.6, 0.02, 0.83, 0.5, 1, 0.98, 0.83, 0.92, 0.6, 0.5, 0.46}},
	{{0.15, 0.98, 0.6, 0.88, 0.92, 0.55, 0.98, 0.25, 0.8, 0.03, 0.45, 0, 0.1, 0.1, 0.02, 0.32, 0.15, 0.52, 0.5, 0.57, 0.85, 0.48}},
}
