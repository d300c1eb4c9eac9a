package section

import (
	"container/heap"
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

const (
	touchMM   = 0.012 // a seam's dark line narrower than this (blur taken off) is that of wings that touch: groove and rounded edges
	channelMM = 0.06  // how far to each side of the seam the wings' walls are looked for
	sideways  = 1.5   // how much dearer than straight down the way between the wings is sideways
	seamApart = 2     // cells: cavity and resin nearer than that along a stretch are one: the wings are open
)

// seam is where the two wings face each other.
type seam struct {
	line []raster.Point // from the notch to the cavity, px of the view; empty where the wings are wide open
	// walls are the wings' sides along the line, left and right of the way, where the wings are open but near.
	walls [2][]raster.Point
	open  bool
	// widthPX is the least distance of the two steepest rises to the wings' metal.
	widthPX float64
	found   bool
}

// findSeam follows the line between the wings from the notch to the cavity.
func findSeam(v view, g grid, k classes, cavity raster.Mask, notch raster.Point, f frame, mmPerPX, blurPX float64) seam {
	if g.meets(cavity, seamApart) {
		return seam{open: true, found: true}
	}
	line := raster.Resample(g.darkWay(cavity, notch, f), 1, false)
	if len(line) < 8 {
		// Next to no way: strands fill a channel up to where resin begins, or the wings' lobes touch in a point.
		return seam{open: g.meets(cavity, 2*seamApart), found: true}
	}
	signal := innerSignal(v, g, k)
	b := unrollOpen(line, 2.5*float64(g.q), 0.5, signal)
	dark := b.smoothed(2, 1)
	for i, s := range dark.value {
		dark.value[i] = 1 + toneWeight - s
	}
	for i, c := range dark.follow(0.02) {
		line[i] = b.point(i, c)
	}
	line = raster.SmoothOpen(line, 3)
	s := seam{line: line, found: true}
	reach := math.Max(6, channelMM/mmPerPX)
	wide := unrollOpen(line, reach, 0.5, signal)
	rise := wide.smoothed(3, 1.2).slope()
	var ways [2][]float64
	for side := range 2 {
		gain := rise
		gain.value = make([]float64, len(rise.value))
		for i, d := range rise.value {
			c := i % rise.cols
			if side == 0 && c >= rise.cols/2 {
				gain.value[i] = math.Max(d, 0)
			} else if side == 1 && c <= rise.cols/2 {
				gain.value[i] = math.Max(-d, 0)
			}
		}
		ways[side] = gain.follow(0.01)
		for i, c := range ways[side] {
			s.walls[side] = append(s.walls[side], wide.point(i, c))
		}
	}
	s.widthPX = math.Inf(1)
	trim := len(line) / 8 // the ends lie in the notch's and the cavity's own corners
	for i := trim; i < len(line)-trim; i++ {
		s.widthPX = math.Min(s.widthPX, (ways[0][i]-ways[1][i])*wide.step)
	}
	own := s.widthPX - 2*blurPX // a line without width, blurred, has its flanks one sigma to each side
	s.open = own*mmPerPX > touchMM && own > 2
	return s
}

// meets tells whether the cavity runs into the resin over more than a touch.
func (g grid) meets(cavity raster.Mask, apart float32) bool {
	depth := raster.Depth(g.part) // of the part's cells below the outline
	n := 0
	for i, in := range cavity.Pix {
		if in && depth[i] <= apart {
			n++
		}
	}
	return n >= 6
}

// darkWay is the way over the grid's cells from where the outline dips in between the wings to the cavity that keeps to
// dark lines as far as it can (Dijkstra 1959), as places of the view.
func (g grid) darkWay(cavity raster.Mask, notch raster.Point, f frame) []raster.Point {
	var rim []float64
	for i, in := range g.part.Pix {
		if in && g.hull[i] > 3 {
			rim = append(rim, float64(g.valley.Pix[i]))
		}
	}
	if len(rim) == 0 {
		return nil
	}
	calm := math.Max(middle(rim), 0.02)
	start := int((notch.Y+0.5)/float64(g.q))*g.w + int((notch.X+0.5)/float64(g.q))
	if start < 0 || start >= len(g.part.Pix) {
		return nil
	}
	dist := make([]float64, len(g.part.Pix))
	from := make([]int32, len(g.part.Pix))
	for i := range dist {
		dist[i], from[i] = math.Inf(1), -1
	}
	dist[start] = 0
	q := &cells{{start, 0}}
	for q.Len() > 0 {
		c := heap.Pop(q).(cell)
		if c.d > dist[c.i] {
			continue
		}
		if cavity.Pix[c.i] {
			var way []raster.Point
			for i := c.i; i >= 0; i = int(from[i]) {
				way = append(way, g.place(float64(i%g.w), float64(i/g.w)))
			}
			slices.Reverse(way)
			return way
		}
		x, y := c.i%g.w, c.i/g.w
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				if (dx == 0 && dy == 0) || x+dx < 0 || y+dy < 0 || x+dx >= g.w || y+dy >= g.h {
					continue
				}
				j := c.i + dy*g.w + dx
				if !g.part.Pix[j] && g.hull[j] == 0 {
					continue
				}
				price := 1 / (0.15 + float64(g.valley.Pix[j])/calm)
				if !g.part.Pix[j] {
					price = 0.1
				}
				// Down, towards the floor, costs least: in the picture that is (-sin, +cos) of the turn.
				down := (float64(dy)*f.cos + float64(dx)*f.sin) / math.Hypot(float64(dx), float64(dy))
				price *= 1 + sideways*(1-down)
				if d := c.d + price*math.Hypot(float64(dx), float64(dy)); d < dist[j] {
					dist[j], from[j] = d, int32(c.i)
					heap.Push(q, cell{j, d})
				}
			}
		}
	}
	return nil
}

type cell struct {
	i int
	d float64
}

// cells is a heap by distance.
type cells []cell

func (c cells) Len() int           { return len(c) }
func (c cells) Less(i, j int) bool { return c[i].d < c[j].d }
func (c cells) Swap(i, j int)      { c[i], c[j] = c[j], c[i] }

// Push implements heap.Interface.
func (c *cells) Push(x any) { *c = append(*c, x.(cell)) }

// Pop implements heap.Interface.
func (c *cells) Pop() any {
	old := *c
	last := old[len(old)-1]
	*c = old[:len(old)-1]
	return last
}
