package section

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
)

const (
	crackShare  = 6.    // times the usual valley of the metal: a dark line that deep may be a crack
	leastCrack  = 0.14  // of the sleeve's brightness: the same
	crackMM     = 0.08  // a shorter one is a pit or a grain's edge
	crackSlim   = 2.5   // cells: a crack is no wider on average
	crackClear  = 3.    // cells kept free along the metal's borders and the seam, whose own lines are dark
	crackJoins  = 5.    // cells: a crack begins at a border, so one end of it comes as near
	scratchMM   = 0.1   // a line longer than this that stays straight is a scratch
	scratchBend = 0.015 // of its length: how little a scratch leaves its chord
)

// findCracks looks for dark, thin, uneven lines in the sleeve's metal that begin at its outer or inner border. A
// straight line that long is a scratch of grinding, a round spot a pit, and a line from cavity to cavity the contact of a
// wing's tip with wall or floor; all are left out. Lengths are along the line from
// the border, from cell to cell; their u is two cells and a tenth of the length.
func (at site) findCracks(c cavity, between seam) (found []record.Crack, lines [][]raster.Point) {
	g := c.grid
	metal := raster.NewMask(g.w, g.h)
	for i, in := range g.part.Pix {
		metal.Pix[i] = in && !c.mask.Pix[i]
	}
	depth := raster.Depth(metal)
	calm, ok := g.calm()
	if !ok {
		return nil, nil
	}
	level := float32(math.Max(crackShare*calm, leastCrack))
	near := g.nearSeam(between)
	dark := raster.NewMask(g.w, g.h)
	for i := range dark.Pix {
		dark.Pix[i] = depth[i] > crackClear && !near.Pix[i] && g.valley.Pix[i] > level
	}
	mmPerCell := at.mmPerPX * float64(g.q)
	for _, chain := range g.chains(dark) {
		line, width := g.spine(chain)
		length := polylineCells(g, line) * mmPerCell
		root := float64(min(depth[line[0]], depth[line[len(line)-1]]))
		if length < crackMM || width > crackSlim || root > crackJoins {
			continue
		}
		if length > scratchMM && g.straight(line) < scratchBend || g.inner(line[0], c.mask) && g.inner(line[len(line)-1], c.mask) {
			continue
		}
		length += root * mmPerCell
		where := "sleeve"
		mm := at.frame.mm(g.place(float64(line[0]%g.w), float64(line[0]/g.w)))
		if mm.Y < at.floorTop(c) {
			where = "floor"
		}
		found = append(found, record.Crack{Where: where, LengthMM: length, U: 2*mmPerCell + 0.1*length})
		points := make([]raster.Point, len(line))
		for k, i := range line {
			points[k] = g.place(float64(i%g.w), float64(i/g.w))
		}
		lines = append(lines, points)
	}
	return found, lines
}

// floorTop is the height of the cavity's lowest point, in the frame of the coarse turn.
func (at site) floorTop(c cavity) float64 {
	low := math.Inf(1)
	for _, l := range c.lines {
		for _, p := range l {
			low = math.Min(low, at.frame.mm(p).Y)
		}
	}
	return low
}

// nearSeam marks the cells about the line between the wings.
func (g grid) nearSeam(between seam) raster.Mask {
	m := raster.NewMask(g.w, g.h)
	const reach = 5
	for _, p := range between.line {
		x, y := int((p.X+0.5)/float64(g.q)), int((p.Y+0.5)/float64(g.q))
		for j := max(y-reach, 0); j <= min(y+reach, g.h-1); j++ {
			for i := max(x-reach, 0); i <= min(x+reach, g.w-1); i++ {
				m.Pix[j*g.w+i] = true
			}
		}
	}
	return m
}

// chains are the pieces of a mask that hang together by sides or corners, gaps of one cell closed.
func (g grid) chains(m raster.Mask) [][]int {
	seen := make([]bool, len(m.Pix))
	var out [][]int
	for start, in := range m.Pix {
		if !in || seen[start] {
			continue
		}
		seen[start] = true
		chain := []int{start}
		for k := 0; k < len(chain); k++ {
			x, y := chain[k]%g.w, chain[k]/g.w
			for j := max(y-2, 0); j <= min(y+2, g.h-1); j++ {
				for i := max(x-2, 0); i <= min(x+2, g.w-1); i++ {
					if n := j*g.w + i; m.Pix[n] && !seen[n] {
						seen[n] = true
						chain = append(chain, n)
					}
				}
			}
		}
		if len(chain) >= 5 {
			out = append(out, chain)
		}
	}
	return out
}

// spine orders a chain from one end to the other, one place for each two cells of the way, and gives its mean width.
func (g grid) spine(chain []int) (line []int, width float64) {
	end := g.farthest(chain, chain[0])
	other := g.farthest(chain, end)
	ex, ey := float64(end%g.w), float64(end/g.w)
	// Cells in rings about one end; the middle of each ring is a place of the line.
	rings := map[int][]int{}
	last := 0
	for _, i := range chain {
		r := int(math.Hypot(float64(i%g.w)-ex, float64(i/g.w)-ey) / 2)
		rings[r] = append(rings[r], i)
		last = max(last, r)
	}
	line = append(line, end)
	for r := 1; r <= last; r++ {
		if ring := rings[r]; len(ring) > 0 {
			line = append(line, ring[len(ring)/2])
		}
	}
	line[len(line)-1] = other
	return line, float64(len(chain)) / math.Max(polylineCells(g, line), 1)
}

func (g grid) farthest(chain []int, from int) int {
	best, far := -1., from
	for _, i := range chain {
		if d := math.Hypot(float64(i%g.w-from%g.w), float64(i/g.w-from/g.w)); d > best {
			best, far = d, i
		}
	}
	return far
}

func polylineCells(g grid, line []int) float64 {
	s := 0.
	for k := 1; k < len(line); k++ {
		s += math.Hypot(float64(line[k]%g.w-line[k-1]%g.w), float64(line[k]/g.w-line[k-1]/g.w))
	}
	return s
}

// straight is the largest distance of the line from its chord, over the chord's length.
func (g grid) straight(line []int) float64 {
	ax, ay := float64(line[0]%g.w), float64(line[0]/g.w)
	bx, by := float64(line[len(line)-1]%g.w), float64(line[len(line)-1]/g.w)
	l := math.Hypot(bx-ax, by-ay)
	if l == 0 {
		return 1
	}
	far := 0.
	for _, i := range line {
		far = math.Max(far, math.Abs((float64(i%g.w)-ax)*(by-ay)-(float64(i/g.w)-ay)*(bx-ax))/l)
	}
	return math.Max(far-0.7, 0) / l // the cells' own grain is worth no bend
}

// inner tells whether a cell lies near the cavity.
func (g grid) inner(i int, cavity raster.Mask) bool {
	const reach = int(crackJoins) + 1
	x, y := i%g.w, i/g.w
	for j := max(y-reach, 0); j <= min(y+reach, g.h-1); j++ {
		for k := max(x-reach, 0); k <= min(x+reach, g.w-1); k++ {
			if cavity.Pix[j*g.w+k] {
				return true
			}
		}
	}
	return false
}
