package section

import (
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// joined is the sleeve's metal as one line where the wings are open: down one side of the channel between them, round
// the cavity, and back up the other side. Pieces of the cavity that a wing's tip cuts off are handed back as they are.
// The line is the border of the metal's pixels, each of its points brought to the nearest of the lines that were
// followed to sub-pixel.
func joined(v view, outer []raster.Point, cavity [][]raster.Point, s seam, q int) (line []raster.Point, cut [][]raster.Point) {
	inside := raster.Fill(v.grey.W, v.grey.H, outer)
	metal := inside
	metal.Pix = slices.Clone(inside.Pix)
	holes := append([][]raster.Point(nil), cavity...)
	if len(s.walls[0]) > 0 {
		channel := append([]raster.Point(nil), s.walls[0]...)
		for i := len(s.walls[1]) - 1; i >= 0; i-- {
			channel = append(channel, s.walls[1][i])
		}
		holes = append(holes, channel)
	}
	for _, h := range holes {
		for i, in := range raster.Fill(v.grey.W, v.grey.H, h).Pix {
			if in {
				metal.Pix[i] = false
			}
		}
	}
	index := newNear(v.grey.W, v.grey.H, append([][]raster.Point{outer}, holes...))
	line, used := index.along(raster.Border(raster.Largest(metal)), len(holes)+1)
	// What is left of a strand's end between cavity and resin, where the wings stand apart, is no metal of the sleeve, which is
	// nowhere that thin. Only as much is taken as it needs to open the channel: the wings' own corners lie as near.
	if most := (seamApart + 2) * q; !reached(used, cavity) {
		below := raster.Depth(inside)
		beside := raster.Distance(raster.Fill(v.grey.W, v.grey.H, cavity...))
		for bridge := 1; bridge <= most && !reached(used, cavity); bridge++ {
			for i, d := range below {
				if max(d, beside[i]) <= float32(bridge) {
					metal.Pix[i] = false
				}
			}
			line, used = index.along(raster.Border(raster.Largest(metal)), len(holes)+1)
		}
	}
	for k, c := range cavity {
		if !follows(used[k+1], c) {
			cut = append(cut, c)
		}
	}
	return raster.Smooth(line, 0.8), cut
}

// follows tells whether the metal's border runs along a piece of the cavity, and does not only pass near it; used is how
// many of the border's points went to the piece.
func follows(used int, piece []raster.Point) bool { return used >= len(piece)/10 }

// reached tells whether the border runs along any piece; used counts its points by line, the outline first.
func reached(used []int, cavity [][]raster.Point) bool {
	for k, c := range cavity {
		if follows(used[k+1], c) {
			return true
		}
	}
	return false
}

// along brings each point of a border to the nearest of the lines, and counts how many went to each of them.
func (n near) along(border []raster.Point, lines int) (line []raster.Point, used []int) {
	used = make([]int, lines)
	for _, p := range border {
		q, k := n.nearest(p)
		used[k]++
		if m := len(line); m == 0 || math.Hypot(q.X-line[m-1].X, q.Y-line[m-1].Y) > 0.3 {
			line = append(line, q)
		}
	}
	return line, used
}

// near finds the nearest of many points by a grid of buckets.
type near struct {
	w, h   int
	bucket map[int][]tagged
}

type tagged struct {
	raster.Point
	line int
}

const bucketPX = 4

func newNear(w, h int, lines [][]raster.Point) near {
	n := near{w: w/bucketPX + 1, h: h/bucketPX + 1, bucket: map[int][]tagged{}}
	for k, l := range lines {
		for _, p := range raster.Resample(l, 0.5, true) {
			b := n.at(p, 0, 0)
			n.bucket[b] = append(n.bucket[b], tagged{p, k})
		}
	}
	return n
}

func (n near) at(p raster.Point, dx, dy int) int {
	return (int(p.Y)/bucketPX+dy)*n.w + int(p.X)/bucketPX + dx
}

// nearest gives the nearest point and its line; the point itself where none is near.
func (n near) nearest(p raster.Point) (raster.Point, int) {
	best, out, line := math.Inf(1), p, 0
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			for _, t := range n.bucket[n.at(p, dx, dy)] {
				if d := math.Hypot(t.X-p.X, t.Y-p.Y); d < best {
					best, out, line = d, t.Point, t.line
				}
			}
		}
	}
	if best > bucketPX {
		return p, 0
	}
	return out, line
}
