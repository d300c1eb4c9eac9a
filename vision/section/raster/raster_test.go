package raster

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// drawMask draws a mask of any size and content.
func drawMask(t *rapid.T) Mask {
	m := NewMask(rapid.IntRange(1, 14).Draw(t, "w"), rapid.IntRange(1, 12).Draw(t, "h"))
	for i := range m.Pix {
		m.Pix[i] = rapid.IntRange(0, 99).Draw(t, "pixel") < 60
	}
	return m
}

func count(m Mask) int {
	n := 0
	for _, in := range m.Pix {
		if in {
			n++
		}
	}
	return n
}

// A border along the pixels' edges encloses as much area as there are pixels, the piece to the right of the way: in a
// picture (y down) the signed area is positive. Corners lie half-way between pixel centres.
func TestBorderEnclosesItsPixels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := FillHoles(Largest(drawMask(t)))
		b := Border(m)
		if count(m) == 0 {
			assert.Empty(t, b)
			return
		}
		assert.InDelta(t, float64(count(m)), Area(b), 1e-9)
		for i, p := range b {
			q := b[(i+1)%len(b)]
			assert.InDelta(t, 1, math.Hypot(q.X-p.X, q.Y-p.Y), 1e-12, "a step of one pixel's side")
			assert.InDelta(t, 0.5, p.X-math.Floor(p.X), 1e-12)
			assert.InDelta(t, 0.5, p.Y-math.Floor(p.Y), 1e-12)
		}
		assert.Equal(t, m, Fill(m.W, m.H, b), "filling the border gives the mask back")
	})
}

// Each piece's border encloses the piece and its holes. A hole that meets the outside at a corner is none: pieces hang
// together by their sides only, so what is outside does by its corners too.
func TestBordersOfAllPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMask(t)
		label, sizes := Pieces(m)
		borders := Borders(m)
		assert.Len(t, borders, len(sizes)-1)
		for k, b := range borders {
			one := NewMask(m.W, m.H)
			for i, l := range label {
				one.Pix[i] = int(l) == k+1
			}
			assert.Equal(t, sizes[k+1], count(one))
			assert.InDelta(t, float64((m.W+2)*(m.H+2)-outside(one)), Area(b), 1e-9)
		}
	})
}

// outside counts the pixels, with a rim of one about the mask, that a king's moves from the corner reach.
func outside(m Mask) int {
	w, h := m.W+2, m.H+2
	seen := make([]bool, w*h)
	stack, n := []int{0}, 0
	seen[0] = true
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		n++
		for k := range 9 {
			x, y := i%w+k%3-1, i/w+k/3-1
			if x < 0 || y < 0 || x >= w || y >= h || seen[y*w+x] {
				continue
			}
			if x > 0 && y > 0 && x <= m.W && y <= m.H && m.Pix[(y-1)*m.W+x-1] {
				continue
			}
			seen[y*w+x] = true
			stack = append(stack, y*w+x)
		}
	}
	return n
}

// pathLabel spreads one pixel's label by hand, the slow way.
func pathLabel(m Mask, start int) map[int]bool {
	in := map[int]bool{start: true}
	for grown := true; grown; {
		grown = false
		for i, ok := range m.Pix {
			if !ok || in[i] {
				continue
			}
			x, y := i%m.W, i/m.W
			for j := range in {
				if dx, dy := j%m.W-x, j/m.W-y; dx*dx+dy*dy == 1 {
					in[i], grown = true, true
					break
				}
			}
		}
	}
	return in
}

func TestPiecesHangTogetherByTheirSides(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMask(t)
		label, sizes := Pieces(m)
		total := 0
		for _, n := range sizes {
			total += n
		}
		assert.Equal(t, count(m), total)
		for i, in := range m.Pix {
			if !in {
				assert.Zero(t, label[i])
				continue
			}
			piece := pathLabel(m, i)
			assert.Len(t, piece, sizes[label[i]])
			for j := range piece {
				assert.Equal(t, label[i], label[j])
			}
		}
		most := 0
		for _, n := range sizes[1:] {
			most = max(most, n)
		}
		assert.Equal(t, most, count(Largest(m)))
	})
}

// A hole is what no way from the rim over empty pixels reaches; filling twice is filling once.
func TestFillHoles(t *testing.T) {
	ring := NewMask(5, 5)
	for i := range ring.Pix {
		x, y := i%5-2, i/5-2
		ring.Pix[i] = max(x*x, y*y) == 1 && !(x == 0 && y == 0)
	}
	assert.Equal(t, 8, count(ring))
	assert.Equal(t, 9, count(FillHoles(ring)))
	rapid.Check(t, func(t *rapid.T) {
		m := drawMask(t)
		f := FillHoles(m)
		assert.Equal(t, f, FillHoles(f))
		for i, in := range m.Pix {
			assert.False(t, in && !f.Pix[i], "a pixel is lost")
		}
	})
}

// Depth is the chamfer distance to the nearest pixel outside: between the true distance and 8 per cent more (Borgefors
// 1986, table 1, for weights 1 and the square root of 2).
func TestDepthIsTheDistanceToTheOutside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMask(t)
		d := Depth(m)
		for i, in := range m.Pix {
			if !in {
				assert.Zero(t, d[i])
				continue
			}
			x, y := i%m.W, i/m.W
			nearest := math.Inf(1)
			for v := -1; v <= m.H; v++ {
				for u := -1; u <= m.W; u++ {
					if u < 0 || v < 0 || u >= m.W || v >= m.H || !m.Pix[v*m.W+u] {
						nearest = math.Min(nearest, math.Hypot(float64(u-x), float64(v-y)))
					}
				}
			}
			assert.GreaterOrEqual(t, float64(d[i]), nearest-1e-5)
			assert.LessOrEqual(t, float64(d[i]), 1.083*nearest+1e-5)
		}
	})
}

// The hull is convex, its corners are points given, and no point lies outside.
func TestHull(t *testing.T) {
	square := []Point{{0, 0}, {2, 0}, {1, 1}, {2, 2}, {0, 2}, {1, 0}}
	assert.ElementsMatch(t, []Point{{0, 0}, {2, 0}, {2, 2}, {0, 2}}, Hull(square))
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 30).Draw(t, "n")
		var p []Point
		for range n {
			p = append(p, Point{float64(rapid.IntRange(-9, 9).Draw(t, "x")), float64(rapid.IntRange(-9, 9).Draw(t, "y"))})
		}
		h := Hull(p)
		if Area(h) == 0 {
			return // all on one line
		}
		for i, a := range h {
			assert.Contains(t, p, a)
			b := h[(i+1)%len(h)]
			for _, q := range p {
				assert.GreaterOrEqual(t, (b.X-a.X)*(q.Y-a.Y)-(b.Y-a.Y)*(q.X-a.X), 0., "%v outside of %v to %v", q, a, b)
			}
			c := h[(i+2)%len(h)]
			assert.Positive(t, (b.X-a.X)*(c.Y-b.Y)-(b.Y-a.Y)*(c.X-b.X), "a corner turns")
		}
	})
}

// Filling takes the pixels whose centres lie inside: counted for a disc of any place and radius by its equation.
func TestFillTakesPixelCentres(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y, r := rapid.Float64Range(5, 25).Draw(t, "x"), rapid.Float64Range(5, 25).Draw(t, "y"), rapid.Float64Range(2, 8).Draw(t, "r")
		var disc []Point
		for k := range 720 {
			sin, cos := math.Sincos(math.Pi * float64(k) / 360)
			disc = append(disc, Point{x + r*cos, y + r*sin})
		}
		m := Fill(30, 30, disc)
		for i, in := range m.Pix {
			if d := math.Hypot(float64(i%30)-x, float64(i/30)-y); math.Abs(d-r) > 1e-3 { // a polygon of 720 sides lies 1e-4 inside
				assert.Equal(t, d < r, in, "pixel %d, %d", i%30, i/30)
			}
		}
		// A polygon within another is a hole.
		var hole []Point
		for _, p := range disc {
			hole = append(hole, Point{x + 0.5*(p.X-x), y + 0.5*(p.Y-y)})
		}
		both, inner := Fill(30, 30, disc, hole), Fill(30, 30, hole)
		for i := range both.Pix {
			if d := math.Hypot(float64(i%30)-x, float64(i/30)-y); math.Abs(d-r/2) > 1e-3 {
				assert.Equal(t, m.Pix[i] && !inner.Pix[i], both.Pix[i], "pixel %d, %d", i%30, i/30)
			}
		}
	})
}

// Resampling keeps to the line and steps evenly; smoothing a circle's points shrinks it by exp(-s²/2), s the sigma as an
// angle (the Fourier transform of a Gaussian).
func TestResampleAndSmooth(t *testing.T) {
	const n, r = 360, 50.
	var circle []Point
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / n)
		circle = append(circle, Point{r * cos, r * sin})
	}
	even := Resample(circle, 1, true)
	assert.Len(t, even, int(math.Round(2*math.Pi*r)))
	for i, p := range even {
		assert.InDelta(t, r, math.Hypot(p.X, p.Y), 0.01)
		q := even[(i+1)%len(even)]
		assert.InDelta(t, 1, math.Hypot(q.X-p.X, q.Y-p.Y), 0.002)
	}
	const sigma = 9.
	for _, p := range Smooth(circle, sigma) {
		s := sigma * 2 * math.Pi / n
		assert.InDelta(t, r*math.Exp(-s*s/2), math.Hypot(p.X, p.Y), 0.02)
	}
	for i, q := range Normals(circle, 3) {
		p := circle[i] // this circle runs clockwise as seen with y down: the piece is to the right, normals point outwards
		assert.InDelta(t, 1, (q.X*p.X+q.Y*p.Y)/r, 1e-6)
	}
	ends := []Point{{0, 0}, {3, 4}}
	line := Resample(ends, 0.5, false)
	assert.Len(t, line, 11)
	assert.Equal(t, ends[0], line[0])
	assert.InDelta(t, 3, line[10].X, 1e-12)
}

// Reading between pixels is exact where the brightness is a bilinear function, and repeats the rim outside.
func TestPlaneAt(t *testing.T) {
	f := func(x, y float64) float64 { return 0.1 + 0.02*x + 0.03*y + 0.001*x*y }
	p := NewPlane(7, 5)
	for i := range p.Pix {
		p.Pix[i] = float32(f(float64(i%7), float64(i/7)))
	}
	rapid.Check(t, func(t *rapid.T) {
		x, y := rapid.Float64Range(-3, 9).Draw(t, "x"), rapid.Float64Range(-3, 7).Draw(t, "y")
		want := f(math.Max(0, math.Min(6, x)), math.Max(0, math.Min(4, y)))
		assert.InDelta(t, want, p.At(x, y), 1e-5)
	})
}

// Opening takes a thin line off a block and gives the block its corners back.
func TestReopen(t *testing.T) {
	m := NewMask(30, 20)
	for y := 4; y < 16; y++ {
		for x := 4; x < 16; x++ {
			m.Pix[y*30+x] = true
		}
	}
	for x := 16; x < 28; x++ {
		m.Pix[9*30+x] = true
	}
	out := Reopen(m, 1.5, 3)
	for y := 4; y < 16; y++ {
		for x := 4; x < 16; x++ {
			assert.True(t, out.Pix[y*30+x], "the block, %d, %d", x, y)
		}
	}
	for x := 20; x < 28; x++ {
		assert.False(t, out.Pix[9*30+x], "the line")
	}
}
