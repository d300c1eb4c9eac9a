package section

import (
	"math"

	"crimprule/vision/section/raster"
)

const (
	wallShare   = 4.   // times the rim's usual valley: a dark line that strong is a wall
	leastWall   = 0.06 // of the sleeve's brightness
	voidShare   = 0.55 // of the sleeve's brightness: darker is a void, however wide
	sleeveTone  = 2.5  // standard deviations of the sleeve's tone: a cell further off is not of the sleeve
	mostGap     = 5    // cells: half the widest gap in a line that is closed
	leastFilled = 0.04 // of the part: dark lines that enclose less say nothing of where the cavity is
	mostFilled  = 0.65
)

// enclosed marks the cells that cannot be reached from the sleeve's rim without crossing a dark line; gaps in a line are
// closed as far as it takes to enclose anything. It needs no difference of tone: it finds strands that look like the sleeve. For each cell
// the weakest place of the strongest line round it is found by a flood from the rim (the minimax way; Pollack 1960).
func (g grid) enclosed() (raster.Mask, bool) {
	calm, ok := g.calm()
	if !ok {
		return raster.Mask{}, false
	}
	wall := math.Max(wallShare*calm, leastWall)
	for gap := 1; gap <= mostGap; gap++ {
		if out, ok := g.core(g.behind(wall, gap), gap); ok {
			return out, true
		}
	}
	return raster.Mask{}, false
}

// core takes from what is enclosed the lines, which by themselves enclose nothing, and the spread that closed their gaps;
// ok is false where the rest is no plausible share of a section.
func (g grid) core(out raster.Mask, gap int) (raster.Mask, bool) {
	total, n := 0, 0
	for i, d := range raster.Depth(out) {
		out.Pix[i] = d > float32(gap)+1
		if out.Pix[i] {
			n++
		}
		if g.part.Pix[i] {
			total++
		}
	}
	share := float64(n) / float64(total)
	return out, share > leastFilled && share < mostFilled
}

// behind marks the cells that cannot be reached from the rim without crossing a dark line of at least that depth; gaps
// in the line up to twice gap cells are closed. The line and so many cells beside it are marked too.
func (g grid) behind(wall float64, gap int) raster.Mask {
	barred := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		// A void may be too wide to look like a line.
		barred.Pix[i] = in && (float64(g.valley.Pix[i]) >= wall || g.lum.Pix[i] < voidShare)
	}
	barred = raster.Widened(barred, gap)
	open := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		open.Pix[i] = in && (!barred.Pix[i] || g.shallow(i))
	}
	label, _ := raster.Pieces(open)
	rim := map[int32]bool{}
	for i, l := range label {
		if l > 0 && g.rim(i) {
			rim[l] = true
		}
	}
	out := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		out.Pix[i] = in && !rim[label[i]]
	}
	return out
}

// completed adds to the cavity what lies beside it and, like it, behind dark lines: strands of another tone than most, and the
// voids between strands; what has the sleeve's tone is left out. The lines must be at least half as deep as those along the cavity's own border, which the
// scratches that cross the metal are not.
func (g grid) completed(cavity raster.Mask) raster.Mask {
	var border []float64
	area := 0
	for i, in := range cavity.Pix {
		if !in {
			continue
		}
		area++
		deepest, edge := float32(0), false
		for _, j := range []int{i - 1, i + 1, i - g.w, i + g.w} {
			if j >= 0 && j < len(cavity.Pix) {
				edge = edge || !cavity.Pix[j]
				deepest = max(deepest, g.valley.Pix[j])
			}
		}
		if edge {
			border = append(border, float64(max(deepest, g.valley.Pix[i])))
		}
	}
	if len(border) == 0 {
		return cavity
	}
	rest := g.behind(math.Max(0.5*middle(border), leastWall), 1)
	for i, in := range cavity.Pix {
		rest.Pix[i] = rest.Pix[i] && !in
	}
	rest = raster.Reopen(rest, 2.5, 2)
	near := raster.Grown(cavity, 3)
	label, sizes := raster.Pieces(rest)
	touches := make([]bool, len(sizes))
	cells := make([][]int, len(sizes))
	for i, l := range label {
		touches[l] = touches[l] || l > 0 && near.Pix[i]
		if l > 0 {
			cells[l] = append(cells[l], i)
		}
	}
	rim, _ := g.sorted()
	mean, cov := moments(g, rim)
	for l := range touches {
		touches[l] = touches[l] && len(farther(g, cells[l], mean, cov, sleeveTone)) > len(cells[l])*2/3
	}
	out := raster.NewMask(g.w, g.h)
	added := 0
	for i, l := range label {
		out.Pix[i] = cavity.Pix[i] || touches[l] && l > 0
		if out.Pix[i] && !cavity.Pix[i] {
			added++
		}
	}
	if added == 0 || added > area {
		return cavity
	}
	return raster.Closed(out, 2)
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
