package section

import (
	"math"

	"crimprule/vision/section/raster"
)

const (
	wallShare   = 4.   // times the rim's usual valley: a dark line that strong is a wall
	leastWall   = 0.06 // of the sleeve's brightness
	leastFilled = 0.04 // of the part: dark lines that enclose less say nothing of where the cavity is
	mostFilled  = 0.65
)

// enclosed marks the cells that cannot be reached from the sleeve's rim without crossing a dark line; gaps of up to two
// cells in a line are closed. It needs no difference of tone: it finds strands that look like the sleeve. For each cell
// the weakest place of the strongest line round it is found by a flood from the rim (the minimax way; Pollack 1960).
func (g grid) enclosed(size float64) (raster.Mask, bool) {
	barrier := raster.NewPlane(g.w, g.h)
	var calm []float64
	for y := range g.h {
		for x := range g.w {
			i := y*g.w + x
			if g.rim(i, size) {
				calm = append(calm, float64(g.valley.Pix[i]))
			}
			for dy := max(y-1, 0); dy <= min(y+1, g.h-1); dy++ {
				for dx := max(x-1, 0); dx <= min(x+1, g.w-1); dx++ {
					barrier.Pix[i] = max(barrier.Pix[i], g.valley.Pix[dy*g.w+dx])
				}
			}
		}
	}
	out := raster.NewMask(g.w, g.h)
	if len(calm) == 0 {
		return out, false
	}
	wall := float32(math.Max(wallShare*middle(calm), leastWall))
	open := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		open.Pix[i] = in && (barrier.Pix[i] < wall || float64(g.hull[i]) < 0.06*size)
	}
	label, _ := raster.Pieces(open)
	rim := map[int32]bool{}
	for i, l := range label {
		if l > 0 && g.rim(i, size) {
			rim[l] = true
		}
	}
	total, n := 0, 0
	for i, in := range g.part.Pix {
		if in {
			total++
			out.Pix[i] = !rim[label[i]]
		}
	}
	// Lines by themselves enclose nothing: what is thin goes, and so does the dilation that closed the gaps.
	for i, d := range raster.Depth(out) {
		out.Pix[i] = d > 2
		if out.Pix[i] {
			n++
		}
	}
	share := float64(n) / float64(total)
	return out, share > leastFilled && share < mostFilled
}

// evidence is the share of a cut's border along which something is to be seen: a dark line, or a step of tone towards
// the sleeve's.
func (g grid) evidence(cavity raster.Mask, k classes, calm float64) float64 {
	seen, n := 0, 0
	for i, in := range cavity.Pix {
		if !in {
			continue
		}
		for _, j := range []int{i - 1, i + 1, i - g.w, i + g.w} {
			if j < 0 || j >= len(cavity.Pix) || cavity.Pix[j] || !g.part.Pix[j] {
				continue
			}
			n++
			dark := math.Max(float64(g.valley.Pix[i]), float64(g.valley.Pix[j]))
			out := 2*j - i // two cells on, clear of what the border itself mixes
			step := 0.
			if back := 2*i - j; out >= 0 && out < len(cavity.Pix) && g.part.Pix[out] && back >= 0 && back < len(cavity.Pix) {
				step = (k.at(g, out) - k.at(g, back)) / k.sd
			}
			if dark > 2.5*calm || step > 3 {
				seen++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return float64(seen) / float64(n)
}
