package section

import (
	"math"

	"crimprule/vision/section/raster"
)

// band is the picture unrolled along a closed line: row i is the profile along the line's normal at its point i, from
// reach px inwards (column 0) to reach px outwards, step px apart.
type band struct {
	line, normal []raster.Point
	reach, step  float64
	cols         int
	open         bool      // the line has two ends
	value        []float64 // len(line) rows of cols
}

// signal gives, for a place of the view, how to read the picture near it: what varies slowly is worked out once.
type signal func(near raster.Point) func(x, y float64) float64

// unroll reads signal about a closed line.
func unroll(line []raster.Point, reach, step float64, signal signal) band {
	return read(line, raster.Normals(line, 3), reach, step, signal)
}

// some is unroll of every k-th point only, for means over the whole line.
func some(line []raster.Point, k int, reach, step float64, signal signal) band {
	n := raster.Normals(line, 3)
	var p, m []raster.Point
	for i := 0; i < len(line); i += k {
		p, m = append(p, line[i]), append(m, n[i])
	}
	return read(p, m, reach, step, signal)
}

// unrollOpen reads signal about a line with two ends; outwards is to the left of the way in a frame with y down.
func unrollOpen(line []raster.Point, reach, step float64, signal signal) band {
	n := make([]raster.Point, len(line))
	for i := range line {
		a, b := line[max(i-4, 0)], line[min(i+4, len(line)-1)]
		if l := math.Hypot(b.X-a.X, b.Y-a.Y); l > 0 {
			n[i] = raster.Point{X: (b.Y - a.Y) / l, Y: -(b.X - a.X) / l}
		}
	}
	b := read(line, n, reach, step, signal)
	b.open = true
	return b
}

func read(line, normal []raster.Point, reach, step float64, signal signal) band {
	b := band{line: line, normal: normal, reach: reach, step: step, cols: 2*int(math.Round(reach/step)) + 1}
	b.value = make([]float64, len(line)*b.cols)
	bands(len(line), func(from, to int) {
		for i := from; i < to; i++ {
			p, n := line[i], normal[i]
			value := signal(p)
			for c := range b.cols {
				d := b.offset(float64(c))
				b.value[i*b.cols+c] = value(p.X+d*n.X, p.Y+d*n.Y)
			}
		}
	})
	return b
}

// offset is the distance from the line, outwards, of a column.
func (b band) offset(col float64) float64 { return (col - float64(b.cols/2)) * b.step }

// point is the place of a column in a row.
func (b band) point(row int, col float64) raster.Point {
	d, p, n := b.offset(col), b.line[row], b.normal[row]
	return raster.Point{X: p.X + d*n.X, Y: p.Y + d*n.Y}
}

// smoothed averages along the line with a Gaussian of sigmaRows points and across with one of sigmaCols columns.
func (b band) smoothed(sigmaRows, sigmaCols float64) band {
	out := b
	out.value = blurAround(b.value, len(b.line), b.cols, sigmaRows, b.open)
	out.value = blurAcross(out.value, len(b.line), b.cols, sigmaCols)
	return out
}

func kernel(sigma float64) []float64 {
	r := int(3*sigma + 0.5)
	k := make([]float64, r+1)
	sum := 0.
	for i := range k {
		k[i] = 1
		if sigma > 0 {
			k[i] = math.Exp(-float64(i*i) / (2 * sigma * sigma))
		}
		sum += k[i]
		if i > 0 {
			sum += k[i]
		}
	}
	for i := range k {
		k[i] /= sum
	}
	return k
}

func blurAround(v []float64, rows, cols int, sigma float64, open bool) []float64 {
	k := kernel(sigma)
	out := make([]float64, len(v))
	bands(rows, func(from, to int) {
		for r := from; r < to; r++ {
			o := out[r*cols : (r+1)*cols]
			for i := -len(k) + 1; i < len(k); i++ {
				f := k[max(i, -i)]
				row := ((r+i)%rows + rows) % rows
				if open {
					row = min(max(r+i, 0), rows-1)
				}
				for c, x := range v[row*cols : (row+1)*cols] {
					o[c] += f * x
				}
			}
		}
	})
	return out
}

func blurAcross(v []float64, rows, cols int, sigma float64) []float64 {
	k := kernel(sigma)
	out := make([]float64, len(v))
	bands(rows, func(from, to int) {
		for r := from; r < to; r++ {
			in, o := v[r*cols:(r+1)*cols], out[r*cols:(r+1)*cols]
			for c := range o {
				s := 0.
				for i := -len(k) + 1; i < len(k); i++ {
					s += k[max(i, -i)] * in[min(max(c+i, 0), cols-1)]
				}
				o[c] = s
			}
		}
	})
	return out
}

// slope is the derivative across, outwards, per column.
func (b band) slope() band {
	out := b
	out.value = make([]float64, len(b.value))
	for r := range b.line {
		for c := range b.cols {
			lo, hi := max(c-1, 0), min(c+1, b.cols-1)
			out.value[r*b.cols+c] = (b.value[r*b.cols+hi] - b.value[r*b.cols+lo]) / float64(hi-lo)
		}
	}
	return out
}

// follow finds the way along the band, one column a row, with the largest sum of gain less bend times the square of each
// step between rows: dynamic programming (Amini, Weymouth and Jain 1990). About a closed line it starts from the row
// with the clearest maximum and comes back to the same column there. The columns are refined by a parabola through the gain.
func (b band) follow(bend float64) []float64 {
	rows, cols := len(b.line), b.cols
	start, col := b.clearest()
	if b.open {
		start, col = -1, -1
	}
	const jump = 2
	best := make([]float64, cols)
	next := make([]float64, cols)
	from := make([]int8, rows*cols)
	for c := range best {
		if !b.open && c != col {
			best[c] = math.Inf(-1)
		}
	}
	for k := 1; k <= rows; k++ {
		r := (start + k) % rows
		for c := range cols {
			next[c] = math.Inf(-1)
			for d := -jump; d <= jump; d++ {
				p := c + d
				if p < 0 || p >= cols {
					continue
				}
				if s := best[p] - bend*float64(d*d); s > next[c] {
					next[c] = s
					from[(k-1)*cols+c] = int8(d)
				}
			}
			next[c] += b.value[r*cols+c]
		}
		best, next = next, best
	}
	c := col
	if b.open {
		c = 0
		for i, s := range best {
			if s > best[c] {
				c = i
			}
		}
	}
	if math.IsInf(best[c], -1) {
		return nil
	}
	way := make([]float64, rows)
	for k := rows; k >= 1; k-- {
		r := (start + k) % rows
		way[r] = b.peak(r, c)
		c += int(from[(k-1)*cols+c])
	}
	return way
}

// follower moves closed lines to where a signal changes most steeply: rising outwards with sign 1, falling with -1.
type follower struct {
	signal signal
	sign   float64
	along  float64 // sigma of the smoothing along the line, points
	bend   float64 // what a step of one px between neighbouring points costs, see follow
}

// on looks within reach px to both sides, step px apart. A line along which no way can be found stays.
func (f follower) on(line []raster.Point, reach, step float64) []raster.Point {
	b := unroll(line, reach, step, f.signal)
	gain := b.smoothed(f.along, 0.8/step).slope()
	for i, s := range gain.value {
		gain.value[i] = math.Max(f.sign*s, 0) / step
	}
	way := gain.follow(f.bend * step * step)
	if way == nil {
		return line
	}
	next := make([]raster.Point, len(line))
	for i, c := range way {
		next[i] = b.point(i, c)
	}
	return next
}

// clearest is the row whose largest gain stands out most, and its column.
func (b band) clearest() (row, col int) {
	top := math.Inf(-1)
	for r := range b.line {
		sum, high, at := 0., math.Inf(-1), 0
		for c, v := range b.value[r*b.cols : (r+1)*b.cols] {
			sum += v
			if v > high {
				high, at = v, c
			}
		}
		if s := high - sum/float64(b.cols); s > top {
			top, row, col = s, r, at
		}
	}
	return row, col
}

// peak refines a column by the parabola through the gain at it and its neighbours; it stays within half a column.
func (b band) peak(row, c int) float64 {
	if c == 0 || c == b.cols-1 {
		return float64(c)
	}
	v := b.value[row*b.cols+c-1 : row*b.cols+c+2]
	den := v[0] - 2*v[1] + v[2]
	if den >= 0 {
		return float64(c)
	}
	return float64(c) + math.Max(-0.5, math.Min(0.5, 0.5*(v[0]-v[2])/den))
}
