package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

const (
	strayShare    = 0.4  // of the class from which a place counts as a stray's,
	faintStray    = 0.1  // and as its going on where it is connected with one
	leastStrayMM2 = 0.12 // of the former; less is a spot
)

// strayPath is a stray as the regions show it: the longest way within a connected stretch of its class.
type strayPath struct {
	points []subpixel.Point // mm of the frame, from end to end
	share  float64          // how much speaks for it, mean over the way
}

// length is along the way.
func (p strayPath) length() (mm float64) {
	for k := 1; k < len(p.points); k++ {
		mm += apart(p.points[k], p.points[k-1])
	}
	return mm
}

// strayPaths lists the connected stretches of the regions that show strays.
func (b *bench) strayPaths() (out []strayPath) {
	r := b.part.Regions
	w, h := r.Prob[part.Strays].W, r.Prob[part.Strays].H
	pix := r.Prob[part.Strays].Pix
	g := grid{w: w, h: h, in: make([]bool, w*h)}
	for i, p := range pix {
		g.in[i] = p > faintStray
	}
	seen := make([]bool, w*h)
	for i := range pix {
		if pix[i] < strayShare || seen[i] {
			continue
		}
		_, from := g.walk(i, seen)
		back, to := g.walk(from, nil)
		var p strayPath
		n := 0
		for k, on := range back {
			if on >= -1 && pix[k] > strayShare {
				n++
			}
		}
		if float64(n)/sq(r.PPM) < leastStrayMM2 {
			continue
		}
		for k := to; k >= 0; k = int(back[k]) {
			wp := r.Frame.World(r.X0+float64(k%w)/r.PPM, r.Y0-float64(k/w)/r.PPM, 0)
			x, y := b.frame.Local(wp)
			p.points = append(p.points, subpixel.Point{X: x, Y: y})
			p.share += float64(pix[k])
		}
		p.share /= float64(len(p.points))
		p.points = evened(p.points)
		out = append(out, p)
	}
	return out
}

// grid is a set of pixels.
type grid struct {
	w, h int
	in   []bool
}

// walk finds the shortest ways from a pixel to all that are connected with it (Dijkstra 1959, by buckets of tenths), gives
// for each the pixel before it on its way (-1 for the first one, -2 for those that are not reached), and the farthest
// one. Pixels that are reached are noted in seen, where that is given.
func (g grid) walk(start int, seen []bool) (back []int32, farthest int) {
	back = make([]int32, len(g.in))
	dist := make([]int32, len(g.in))
	for i := range back {
		back[i], dist[i] = -2, math.MaxInt32
	}
	buckets := [][]int{{start}}
	back[start], dist[start], farthest = -1, 0, start
	for d := 0; d < len(buckets); d++ {
		for k := 0; k < len(buckets[d]); k++ {
			i := buckets[d][k]
			if int(dist[i]) != d {
				continue
			}
			farthest = i
			if seen != nil {
				seen[i] = true
			}
			x, y := i%g.w, i/g.w
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					nx, ny := x+dx, y+dy
					if nx < 0 || ny < 0 || nx >= g.w || ny >= g.h || !g.in[ny*g.w+nx] {
						continue
					}
					step := 10
					if dx != 0 && dy != 0 {
						step = 14
					}
					n := ny*g.w + nx
					if int(dist[n]) > d+step {
						dist[n], back[n] = int32(d+step), int32(i)
						for len(buckets) <= d+step {
							buckets = append(buckets, nil)
						}
						buckets[d+step] = append(buckets[d+step], n)
					}
				}
			}
		}
	}
	return back, farthest
}

// evened is the running mean of a way over a third of a millimetre: steps from pixel to pixel are longer than the way itself.
func evened(p []subpixel.Point) []subpixel.Point {
	const half = 3
	out := slices.Clone(p)
	for i := range p {
		k := min(half, i, len(p)-1-i)
		var s subpixel.Point
		for _, q := range p[i-k : i+k+1] {
			s.X, s.Y = s.X+q.X, s.Y+q.Y
		}
		out[i] = subpixel.Point{X: s.X / float64(2*k+1), Y: s.Y / float64(2*k+1)}
	}
	return out
}
