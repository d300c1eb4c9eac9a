package section

import (
	"math"
	"runtime"
	"slices"
	"sync"

	"crimprule/vision/section/raster"
)

// grid is the section in cells of q x q pixels of the view, the scale at which strands and sleeve are told apart.
type grid struct {
	w, h, q int
	size    float64                // root of the part's area, cells
	part    raster.Mask            // cells inside the outline
	hull    []float32              // depth below the outline's convex hull, cells; 0 outside
	tone    []raster.Plane         // medians over a cell and its surroundings, a channel each, over the local light: the sleeve is about 1
	lum     raster.Plane           // the same of the mean over the channels
	light   [][groundTerms]float64 // the sleeve's tone over the view, a channel each, then the mean over the channels
	valley  raster.Plane           // how deep the deepest dark line in the cell is, as a share of the sleeve's brightness
}

const gridAcross = 280 // cells: root of the part's area

// place is the view's place of a cell's middle.
func (g grid) place(x, y float64) raster.Point {
	return raster.Point{X: (x+0.5)*float64(g.q) - 0.5, Y: (y+0.5)*float64(g.q) - 0.5}
}

// makeGrid lays cells over the view. The light's unevenness is taken from the sleeve's rim, which runs all round.
func makeGrid(v view, o outline) grid {
	size := o.across()
	q := max(int(math.Ceil(size/gridAcross)), 1)
	g := grid{w: v.grey.W / q, h: v.grey.H / q, q: q, size: size / float64(q)}
	cells := func(p []raster.Point) []raster.Point {
		out := make([]raster.Point, len(p))
		for i, a := range p {
			out[i] = raster.Point{X: (a.X+0.5)/float64(q) - 0.5, Y: (a.Y+0.5)/float64(q) - 0.5}
		}
		return out
	}
	g.part = raster.Fill(g.w, g.h, cells(o.line))
	hull := raster.Fill(g.w, g.h, cells(raster.Hull(o.line)))
	g.hull = raster.Depth(hull)
	for _, p := range v.tone {
		g.tone = append(g.tone, g.medians(p))
	}
	g.lum = g.tone[0]
	if n := len(v.tone); n > 1 {
		g.lum = raster.NewPlane(g.w, g.h)
		for i := range g.lum.Pix {
			for _, p := range g.tone {
				g.lum.Pix[i] += p.Pix[i] / float32(n)
			}
		}
	}
	g.levelLight()
	g.valley = g.valleys(v.grey)
	return g
}

// medians gives for each cell the median over it and half a cell around, from samples x samples pixels spread evenly
// over that: dark lines thinner than half of it leave no trace.
func (g grid) medians(p raster.Plane) raster.Plane {
	const samples = 5
	out := raster.NewPlane(g.w, g.h)
	side := g.q + 2*((g.q+1)/2)
	var offset [samples]int
	for k := range offset {
		offset[k] = (2*k+1)*side/(2*samples) - (g.q+1)/2
	}
	bands(g.h, func(from, to int) {
		var buf [samples * samples]float32
		for y := from; y < to; y++ {
			g.medianRow(p, out, y, offset[:], buf[:])
		}
	})
	return out
}

func (g grid) medianRow(p, out raster.Plane, y int, offset []int, buf []float32) {
	for x := range g.w {
		if !g.part.Pix[y*g.w+x] {
			continue
		}
		n := 0
		for _, dy := range offset {
			row := min(max(y*g.q+dy, 0), p.H-1) * p.W
			for _, dx := range offset {
				buf[n] = p.Pix[row+min(max(x*g.q+dx, 0), p.W-1)]
				n++
			}
		}
		out.Pix[y*g.w+x] = middleOf(buf)
	}
}

// bands shares rows among the processor's cores; every row is worked on by itself, so the result does not hang on it.
func bands(rows int, work func(from, to int)) {
	n := min(runtime.GOMAXPROCS(0), rows)
	var wait sync.WaitGroup
	for k := range n {
		wait.Add(1)
		go func() {
			defer wait.Done()
			work(rows*k/n, rows*(k+1)/n)
		}()
	}
	wait.Wait()
}

// middleOf selects the median in place (Hoare 1961).
func middleOf[T float32 | float64](v []T) T {
	lo, hi, k := 0, len(v)-1, len(v)/2
	for lo < hi {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		if k <= j {
			hi = j
		} else if k >= i {
			lo = i
		} else {
			break
		}
	}
	return v[k]
}

// How deep below the hull, as a share of the part's size, metal is certainly the sleeve's, and no longer its darkened edge.
const (
	rimFrom = 0.015
	rimTo   = 0.06
)

// rim tells whether a cell lies so near the hull that it is certainly sleeve, and not on its darkened edge.
func (g grid) rim(i int) bool {
	return g.part.Pix[i] && float64(g.hull[i]) > rimFrom*g.size && g.shallow(i)
}

// shallow tells whether a cell lies too near the hull to be a strand's.
func (g grid) shallow(i int) bool { return float64(g.hull[i]) < rimTo*g.size }

// calm is the usual valley of the sleeve's metal without lines; ok is false where no metal was found.
func (g grid) calm() (valley float64, ok bool) {
	var v []float64
	for i := range g.part.Pix {
		if g.rim(i) {
			v = append(v, float64(g.valley.Pix[i]))
		}
	}
	if len(v) == 0 {
		return 0, false
	}
	return middle(v), true
}

// levelLight divides each channel by a plane of second order through the rim's tones.
func (g *grid) levelLight() {
	for _, p := range append(slices.Clone(g.tone), g.lum) {
		coef := g.fitLight(p)
		g.light = append(g.light, coef)
	}
	for c, p := range g.tone {
		g.divide(p, g.light[c])
	}
	if len(g.tone) > 1 {
		g.divide(g.lum, g.light[len(g.tone)])
	}
}

func (g grid) divide(p raster.Plane, light [groundTerms]float64) {
	for i := range p.Pix {
		if g.part.Pix[i] {
			p.Pix[i] /= float32(math.Max(dot(light, g.powers(i)), 0.02))
		}
	}
}

func (g grid) powers(i int) [groundTerms]float64 {
	x, y := (float64(i%g.w)+0.5)/float64(g.w)-0.5, (float64(i/g.w)+0.5)/float64(g.h)-0.5
	return [groundTerms]float64{1, x, y, x * x, x * y, y * y}
}

func (g grid) fitLight(p raster.Plane) (coef [groundTerms]float64) {
	coef[0] = 1
	reach := math.Inf(1)
	for range 4 {
		var sums [groundTerms][groundTerms]float64
		var rhs [groundTerms]float64
		var dev []float64
		for i := range p.Pix {
			if !g.rim(i) {
				continue
			}
			k := g.powers(i)
			d := math.Abs(float64(p.Pix[i]) - dot(coef, k))
			dev = append(dev, d)
			if d > reach {
				continue
			}
			for a := range k {
				for b := range k {
					sums[a][b] += k[a] * k[b]
				}
				rhs[a] += k[a] * float64(p.Pix[i])
			}
		}
		if len(dev) < 30 {
			return coef
		}
		next, solved := solve6(sums, rhs)
		if !solved {
			return coef
		}
		coef = next
		if !math.IsInf(reach, 1) {
			reach = 3 * 1.4826 * middle(dev)
		} else {
			reach = math.MaxFloat64
		}
	}
	return coef
}

// middle is the median; v is left as it is.
func middle(v []float64) float64 {
	s := slices.Clone(v)
	return middleOf(s)
}

// valleys measures dark lines: at each pixel how much darker it is than both of its sides, in the direction in which
// that is most, over the sleeve's brightness. A cell has the largest of its pixels.
func (g grid) valleys(p raster.Plane) raster.Plane {
	out := raster.NewPlane(g.w, g.h)
	var sleeve []float64
	for i, in := range g.part.Pix {
		if in && g.lum.Pix[i] > 0.9 && g.lum.Pix[i] < 1.1 {
			x, y := i%g.w, i/g.w
			sleeve = append(sleeve, float64(p.Pix[(y*g.q+g.q/2)*p.W+x*g.q+g.q/2]))
		}
	}
	bright := float32(0.5)
	if len(sleeve) > 0 {
		bright = float32(math.Max(middle(sleeve), 0.05))
	}
	for _, r := range []int{2, 4} {
		if r == 4 && g.q < 2 {
			break
		}
		steps := [4]int{r, r * p.W, r*p.W + r, r*p.W - r}
		if r > 2 {
			d := r * 7 / 10
			steps[2], steps[3] = d*p.W+d, d*p.W-d
		}
		// Whole rows of cells each, so that no cell is written from two sides.
		bands(g.h, func(from, to int) {
			for y := max(from*g.q, r); y < min(to*g.q, p.H-r); y++ {
				for x := r; x < min(g.w*g.q, p.W-r); x++ {
					c := (y/g.q)*g.w + x/g.q
					if !g.part.Pix[c] {
						continue
					}
					i := y*p.W + x
					v := p.Pix[i]
					most := float32(0)
					for _, s := range steps {
						most = max(most, min(p.Pix[i-s], p.Pix[i+s])-v)
					}
					if most /= bright; most > out.Pix[c] {
						out.Pix[c] = most
					}
				}
			}
		})
	}
	return out
}
