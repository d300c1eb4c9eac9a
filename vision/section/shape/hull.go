package shape

import (
	"math"
	"slices"

	"crimprule/vision/section/raster"
)

// bay is a stretch of a counterclockwise curve that lies inside its hull: from index from to index to (which may be
// larger than the number of points), at most depth behind the hull, there at index deepest.
type bay struct {
	from, to, deepest int
	depth             float64
}

// bays lists the stretches behind the hull's edges.
func bays(c curve) []bay {
	corners := raster.HullCorners(c.p)
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
			if d := raster.Cross(a, b, c.at(m)) / math.Max(l, 1e-12); d > v.depth {
				v.depth, v.deepest = d, m
			}
		}
		out = append(out, v)
	}
	return out
}
