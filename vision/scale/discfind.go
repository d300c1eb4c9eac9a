package scale

import (
	"image"
	"math"
	"math/rand/v2"
	"slices"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
)

// How a disc is looked for: in a reduced picture, among the places round which edges stand in pairs.
const (
	discSearchPX   = 900  // long side of the picture that discs are looked for in
	discBlurPX     = 1.1  // its smoothing before edges are taken
	discEdgeLeast  = 1.0  // grey levels a px: the weakest edge
	discEdgeRelief = 2.2  // and how many times steeper than its surroundings
	discLeastPX    = 11.  // smallest half axis there
	discAspect     = 0.55 // flattest ellipse, about 56 degrees of tilt
	discVoters     = 6000
	discPeaks      = 60
	discArc        = 0.5 // share of an ellipse's rim that must be seen for it to be looked at again
)

// edgePoint is a place of steepest change with the unit vector across the edge.
type edgePoint struct {
	at, n pt
	turn  float64 // direction of n, 0..pi
}

// edgeField are the edge points of a picture, and which one lies in each pixel (-1: none).
type edgeField struct {
	w, h   int
	points []edgePoint
	index  []int32
}

// newEdgeField finds the edge points of a colour picture (8-bit BGR): in each pixel the channel that changes most counts,
// and a point is kept where the change is a maximum across the edge (Canny's rule) and stands out from its surroundings.
func newEdgeField(mat gocv.Mat) (*edgeField, error) {
	soft := gocv.NewMat()
	defer soft.Close()
	if err := cvx.GaussianBlur(mat, &soft, image.Point{}, discBlurPX, discBlurPX, gocv.BorderReplicate); err != nil {
		return nil, err
	}
	v, err := soft.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	f := &edgeField{w: soft.Cols(), h: soft.Rows()}
	gx, gy, mag := f.gradients(v)
	least := f.leastSteepness(mag)
	f.index = make([]int32, f.w*f.h)
	for i := range f.index {
		f.index[i] = -1
	}
	for y := 2; y < f.h-2; y++ {
		for x := 2; x < f.w-2; x++ {
			o := y*f.w + x
			m := mag[o]
			if m < least[(y/edgeTile)*f.tiles()+x/edgeTile] {
				continue
			}
			nx, ny := gx[o]/m, gy[o]/m
			before, after := f.sample(mag, float32(x)-nx, float32(y)-ny), f.sample(mag, float32(x)+nx, float32(y)+ny)
			if m < before || m <= after {
				continue
			}
			d := 0.5 * (before - after) / (before - 2*m + after)
			turn := math.Atan2(float64(ny), float64(nx))
			if turn < 0 {
				turn += math.Pi
			}
			f.index[o] = int32(len(f.points))
			f.points = append(f.points, edgePoint{pt{float64(x) + float64(d*nx), float64(y) + float64(d*ny)}, pt{float64(nx), float64(ny)}, turn})
		}
	}
	return f, nil
}

const edgeTile = 32 // px, over which the surroundings of an edge are taken

func (f *edgeField) tiles() int { return (f.w + edgeTile - 1) / edgeTile }

func (f *edgeField) gradients(v []uint8) (gx, gy, mag []float32) {
	n := f.w * f.h
	gx, gy, mag = make([]float32, n), make([]float32, n), make([]float32, n)
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			o := y*f.w + x
			best := int32(-1)
			var bx, by int32
			for c := range 3 {
				dx := int32(v[3*(o+1)+c]) - int32(v[3*(o-1)+c])
				dy := int32(v[3*(o+f.w)+c]) - int32(v[3*(o-f.w)+c])
				if s := dx*dx + dy*dy; s > best {
					best, bx, by = s, dx, dy
				}
			}
			gx[o], gy[o] = float32(bx)/2, float32(by)/2
			mag[o] = float32(math.Sqrt(float64(best))) / 2
		}
	}
	return gx, gy, mag
}

// leastSteepness is how steep an edge must be in each tile: more than the median steepness there, so that grain and
// texture stay out.
func (f *edgeField) leastSteepness(mag []float32) []float32 {
	cols, rows := f.tiles(), (f.h+edgeTile-1)/edgeTile
	out := make([]float32, cols*rows)
	var v []float32
	for j := range rows {
		for i := range cols {
			v = v[:0]
			for y := j * edgeTile; y < min(f.h, (j+1)*edgeTile); y += 2 {
				for x := i * edgeTile; x < min(f.w, (i+1)*edgeTile); x += 2 {
					v = append(v, mag[y*f.w+x])
				}
			}
			slices.Sort(v)
			out[j*cols+i] = max(discEdgeLeast, discEdgeRelief*v[len(v)/2])
		}
	}
	return out
}

func (f *edgeField) sample(v []float32, x, y float32) float32 {
	i, j := int(x), int(y)
	fx, fy := x-float32(i), y-float32(j)
	o := j*f.w + i
	return (1-fy)*((1-fx)*v[o]+fx*v[o+1]) + fy*((1-fx)*v[o+f.w]+fx*v[o+f.w+1])
}

// centres are the places with the most pairs of edge points that face each other: every chord through an ellipse's
// centre ends in parallel tangents, and its middle is the centre. It is what a circle under any tilt shows.
func (f *edgeField) centres(largest float64) []pt {
	const cell, bins = 2, 90
	var byTurn [bins][]int32
	voters := f.lasting()
	stride := max(1, (len(voters)+discVoters-1)/discVoters)
	for k := 0; k < len(voters); k += stride {
		i := voters[k]
		b := min(bins-1, int(f.points[i].turn/math.Pi*bins))
		byTurn[b] = append(byTurn[b], i)
	}
	cols, rows := f.w/cell+3, f.h/cell+3
	votes := make([]uint16, cols*rows)
	least, most := 4*discLeastPX*discLeastPX, 4*largest*largest
	for b := range bins {
		for step := range 3 { // neighbouring bins: directions are good to some degrees
			for k, i := range byTurn[b] {
				p := &f.points[i]
				others := byTurn[(b+step)%bins]
				if step == 0 {
					others = others[k+1:]
				}
				for _, j := range others {
					q := &f.points[j]
					dx, dy := q.at.x-p.at.x, q.at.y-p.at.y
					d := dx*dx + dy*dy
					if d < least || d > most {
						continue
					}
					if across := dx*p.n.y - dy*p.n.x; across*across > 0.25*d {
						continue // an ellipse's diameter stands nearly square to its rim
					}
					x, y := int((p.at.x+q.at.x)/(2*cell))+1, int((p.at.y+q.at.y)/(2*cell))+1
					votes[y*cols+x]++
				}
			}
		}
	}
	return peaks(votes, cols, rows, cell)
}

// lasting are the edge points whose edge goes on to both sides: grain and texture give many that do not.
func (f *edgeField) lasting() []int32 {
	var out []int32
next:
	for i := range f.points {
		p := &f.points[i]
		along := pt{-p.n.y, p.n.x}
		for _, d := range [4]float64{3, -3, 6, -6} {
			if f.near(p.at.add(along.mul(d)), p.n, 1.5) < 0 {
				continue next
			}
		}
		out = append(out, int32(i))
	}
	return out
}

// peaks are the largest sums over 3 x 3 cells, none next to a larger one.
func peaks(votes []uint16, cols, rows, cell int) []pt {
	type peak struct{ x, y, n int }
	sum := make([]int32, len(votes))
	var all []peak
	for y := 1; y < rows-1; y++ {
		for x := 1; x < cols-1; x++ {
			o := y*cols + x
			for _, r := range [3]int{o - cols, o, o + cols} {
				sum[o] += int32(votes[r-1]) + int32(votes[r]) + int32(votes[r+1])
			}
		}
	}
	for y := 2; y < rows-2; y++ {
		for x := 2; x < cols-2; x++ {
			o := y*cols + x
			n := sum[o]
			if n >= 12 && n > sum[o-1] && n >= sum[o+1] && n > sum[o-cols] && n >= sum[o+cols] &&
				n > sum[o-cols-1] && n > sum[o-cols+1] && n >= sum[o+cols-1] && n >= sum[o+cols+1] {
				all = append(all, peak{x, y, int(n)})
			}
		}
	}
	slices.SortFunc(all, func(a, b peak) int { return b.n - a.n })
	var out []pt
	for _, p := range all[:min(len(all), discPeaks)] {
		out = append(out, pt{(float64(p.x) - 0.5) * float64(cell), (float64(p.y) - 0.5) * float64(cell)})
	}
	return out
}

// near gives the edge point within reach px of a place whose edge runs across n to some degrees, the nearest one.
func (f *edgeField) near(c, n pt, reach float64) int {
	best, distance := -1, reach*reach
	r := int(reach) + 1
	x, y := int(c.x+0.5), int(c.y+0.5)
	for j := max(0, y-r); j <= min(f.h-1, y+r); j++ {
		for i := max(0, x-r); i <= min(f.w-1, x+r); i++ {
			k := f.index[j*f.w+i]
			if k < 0 {
				continue
			}
			q := &f.points[k]
			dx, dy := q.at.x-c.x, q.at.y-c.y
			if d := dx*dx + dy*dy; d < distance && math.Abs(q.n.cross(n)) < 0.26 {
				best, distance = int(k), d
			}
		}
	}
	return best
}

// facing are the edge points that have another one opposite a centre.
func (f *edgeField) facing(c pt, largest float64) []edgePoint {
	var out []edgePoint
	for i := range f.points {
		p := &f.points[i]
		r := p.at.sub(c)
		d := math.Sqrt(r.x*r.x + r.y*r.y)
		if d < discLeastPX || d > largest || math.Abs(r.cross(p.n)) > 0.5*d {
			continue
		}
		if f.near(c.sub(r), p.n, 2.5) >= 0 {
			out = append(out, *p)
		}
	}
	return out
}

// ellipsesAt looks for ellipses about a centre by trials with three points each (RANSAC, Fischler and Bolles 1981) and
// takes the rim of each found one away before it looks for the next.
func (f *edgeField) ellipsesAt(c pt, largest float64, random *rand.Rand) []ellipse {
	const trials, families = 120, 3
	points := f.facing(c, largest)
	var out []ellipse
	for range families {
		var best ellipse
		most := 0.
		for range trials {
			if len(points) < 24 {
				return out
			}
			e, ok := centralEllipse(c, [3]pt{points[random.IntN(len(points))].at, points[random.IntN(len(points))].at, points[random.IntN(len(points))].at})
			if !ok || e.b < discLeastPX || e.a > largest || e.b < discAspect*e.a {
				continue
			}
			n, meets := 0, e.meets(1.5)
			for i := range points {
				if meets(&points[i]) {
					n++
				}
			}
			if share := float64(n) / e.perimeter(); share > most {
				best, most = e, share
			}
		}
		if most < 0.3 {
			return out
		}
		if e, ok := f.settle(best); ok {
			out = append(out, e)
		}
		rest, meets := points[:0], best.meets(2.5)
		for i := range points {
			if !meets(&points[i]) {
				rest = append(rest, points[i])
			}
		}
		points = rest
	}
	return out
}

// settle fits an ellipse to the edge points along it and tells whether enough of its rim is there.
func (f *edgeField) settle(e ellipse) (ellipse, bool) {
	for _, reach := range []float64{3, 2.5, 2, 1.6} {
		var rim []pt
		n := max(48, int(e.perimeter()))
		last := -1
		for k := range n {
			p, normal := e.at(2 * math.Pi * float64(k) / float64(n))
			if i := f.near(p, normal, reach); i >= 0 && i != last {
				rim, last = append(rim, f.points[i].at), i
			}
		}
		if float64(len(rim)) < discArc*float64(n)*0.8 {
			return e, false
		}
		next, ok := fitConic(rim, nil)
		if !ok || next.b < discLeastPX*0.8 || next.b < discAspect*next.a || next.c.dist(e.c) > 0.3*e.a {
			return e, false
		}
		e = next
	}
	return e, f.cover(e, 1.3) >= discArc
}

// cover is the share of an ellipse's rim along which edge points lie within reach px and in its direction.
func (f *edgeField) cover(e ellipse, reach float64) float64 {
	const sectors = 180
	n := 0
	for k := range sectors {
		p, normal := e.at(2 * math.Pi * (float64(k) + 0.5) / sectors)
		if f.near(p, normal, reach) >= 0 {
			n++
		}
	}
	return float64(n) / sectors
}

// roundThings finds what is round or a circle under tilt in a colour picture, in px of that picture, the larger ones
// first. leastPX is the smallest half axis that is of use.
func roundThings(mat gocv.Mat, leastPX float64) ([]ellipse, error) {
	shrink := math.Min(1, discSearchPX/float64(max(mat.Cols(), mat.Rows())))
	small := gocv.NewMat()
	defer small.Close()
	size := image.Pt(int(math.Round(float64(mat.Cols())*shrink)), int(math.Round(float64(mat.Rows())*shrink)))
	if err := cvx.Resize(mat, &small, size, gocv.InterpolationArea); err != nil {
		return nil, err
	}
	f, err := newEdgeField(small)
	if err != nil {
		return nil, err
	}
	largest := 0.75 * float64(max(size.X, size.Y))
	random := rand.New(rand.NewPCG(1, 2)) // the same picture always gives the same discs
	var found []ellipse
	for _, c := range f.centres(largest) {
		for _, e := range f.ellipsesAt(c, largest, random) {
			if e.b*float64(mat.Cols())/float64(size.X) >= leastPX && !slices.ContainsFunc(found, func(o ellipse) bool { return o.same(e, 1.5) }) {
				found = append(found, e)
			}
		}
	}
	slices.SortFunc(found, func(a, b ellipse) int { return int(math.Copysign(1, b.a*b.b-a.a*a.b)) })
	fx, fy := float64(mat.Cols())/float64(size.X), float64(mat.Rows())/float64(size.Y)
	for i := range found {
		found[i] = found[i].enlarged((fx+fy)/2, pt{fx, fy})
	}
	return found, nil
}
