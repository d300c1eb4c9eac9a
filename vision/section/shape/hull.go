package shape

import (
	"cmp"
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// hull lists the indices of the convex hull's corners, counterclockwise (Andrew's monotone chain, Information Processing
// Letters 9 (1979) 216).
func hull(p []raster.Point) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(p[a].X, p[b].X), cmp.Compare(p[a].Y, p[b].Y))
	})
	chain := func(out []int, seq []int) []int {
		base := len(out)
		for _, i := range seq {
			for len(out) >= base+2 && cross(p[out[len(out)-2]], p[out[len(out)-1]], p[i]) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, i)
		}
		return out[:len(out)-1]
	}
	out := chain(nil, order)
	slices.Reverse(order)
	return chain(out, order)
}

func cross(a, b, c raster.Point) float64 { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }

// bay is a stretch of a counterclockwise curve that lies inside its hull: from index from to index to (which may be
// larger than the number of points), at most depth behind the hull, there at index deepest.
type bay struct {
	from, to, deepest int
	depth             float64
}

// bays lists the stretches behind the hull's edges.
func bays(c curve) []bay {
	corners := hull(c.p)
	slices.Sort(corners)
	var out []bay
	for k, i := range corners {
		j := corners[(k+1)%len(corners)]
		if j <= i {
			j += len(c.p)
		}
		if j-i < 3 {
			continue
		}
		a, b := c.at(i), c.at(j)
		l := dist(a, b)
		v := bay{from: i, to: j, deepest: i}
		for m := i; m <= j; m++ {
			if d := cross(a, b, c.at(m)) / math.Max(l, 1e-12); d > v.depth {
				v.depth, v.deepest = d, m
			}
		}
		out = append(out, v)
	}
	return out
}
