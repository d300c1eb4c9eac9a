package raster

import (
	"cmp"
	"math"
	"slices"
)

// Hull is the convex hull (Andrew's monotone chain, 1979), closed.
func Hull(p []Point) []Point {
	s := slices.Clone(p)
	slices.SortFunc(s, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
	})
	if len(s) < 3 {
		return s
	}
	chain := func(s []Point) []Point {
		var h []Point
		for _, c := range s {
			for len(h) >= 2 {
				a, b := h[len(h)-2], h[len(h)-1]
				if (b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X) > 0 {
					break
				}
				h = h[:len(h)-1]
			}
			h = append(h, c)
		}
		return h
	}
	lower := chain(s)
	slices.Reverse(s)
	upper := chain(s)
	return append(lower[:len(lower)-1], upper[:len(upper)-1]...)
}

// Depth gives for each pixel of the mask its distance to the nearest pixel outside (outside the picture counts), as the
// two-pass chamfer distance with weights 1 and sqrt 2 (Borgefors 1986; at most 8 per cent too long); 0 outside.
func Depth(m Mask) []float32 { return depth(m, 0) }

// depth is Depth with a distance of its own for what lies beyond the picture.
func depth(m Mask, beyond float32) []float32 {
	d := make([]float32, len(m.Pix))
	const diagonal = math.Sqrt2
	at := func(x, y int) float32 {
		if x < 0 || y < 0 || x >= m.W || y >= m.H {
			return beyond
		}
		return d[y*m.W+x]
	}
	for i, in := range m.Pix {
		if in {
			d[i] = math.MaxFloat32
		}
	}
	for y := range m.H {
		for x := range m.W {
			if m.Pix[y*m.W+x] {
				d[y*m.W+x] = min(at(x-1, y)+1, at(x, y-1)+1, at(x-1, y-1)+diagonal, at(x+1, y-1)+diagonal)
			}
		}
	}
	for y := m.H - 1; y >= 0; y-- {
		for x := m.W - 1; x >= 0; x-- {
			if i := y*m.W + x; m.Pix[i] {
				d[i] = min(d[i], at(x+1, y)+1, at(x, y+1)+1, at(x+1, y+1)+diagonal, at(x-1, y+1)+diagonal)
			}
		}
	}
	return d
}

// Reopen takes away what is narrower than about twice the radius (an opening), and then lets what is left grow back into
// the mask by up to reach pixels, so that corners come back and thin lines do not.
func Reopen(m Mask, radius, reach float64) Mask {
	core := NewMask(m.W, m.H)
	for i, d := range Depth(m) {
		core.Pix[i] = float64(d) > radius
	}
	away := NewMask(m.W, m.H)
	for i := range away.Pix {
		away.Pix[i] = !core.Pix[i]
	}
	far := depth(away, math.MaxFloat32)
	out := NewMask(m.W, m.H)
	for i := range out.Pix {
		out.Pix[i] = m.Pix[i] && (core.Pix[i] || float64(far[i]) <= radius+reach)
	}
	return out
}

// Grown adds to a mask what lies within the radius of it.
func Grown(m Mask, radius float64) Mask {
	away := NewMask(m.W, m.H)
	for i, in := range m.Pix {
		away.Pix[i] = !in
	}
	out := NewMask(m.W, m.H)
	for i, d := range depth(away, math.MaxFloat32) {
		out.Pix[i] = float64(d) <= radius
	}
	return out
}

// Closed fills gaps narrower than about twice the radius (a closing).
func Closed(m Mask, radius float64) Mask {
	grown := Grown(m, radius)
	out := NewMask(m.W, m.H)
	for i, d := range Depth(grown) {
		out.Pix[i] = m.Pix[i] || float64(d) > radius
	}
	return out
}

// Widened marks every pixel of whose square of 2 reach + 1 pixels one is marked.
func Widened(m Mask, reach int) Mask {
	rows, out := NewMask(m.W, m.H), NewMask(m.W, m.H)
	for i, in := range m.Pix {
		if in {
			x := i % m.W
			for k := max(x-reach, 0); k <= min(x+reach, m.W-1); k++ {
				rows.Pix[i-x+k] = true
			}
		}
	}
	for i, in := range rows.Pix {
		if in {
			for k := max(i/m.W-reach, 0); k <= min(i/m.W+reach, m.H-1); k++ {
				out.Pix[k*m.W+i%m.W] = true
			}
		}
	}
	return out
}
