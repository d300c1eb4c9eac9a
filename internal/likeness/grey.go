package likeness

import (
	"bytes"
	"image"
	"image/draw"
	"image/jpeg"
)

// grey is a grey picture of floating point numbers, 0..255.
type grey struct {
	W, H int
	Pix  []float32
}

// miniature unpacks the miniature of a look.
func miniature(small []byte) (grey, error) {
	img, err := jpeg.Decode(bytes.NewReader(small))
	if err != nil {
		return grey{}, err
	}
	shown, ok := img.(*image.Gray)
	if !ok {
		shown = image.NewGray(img.Bounds())
		draw.Draw(shown, shown.Bounds(), img, img.Bounds().Min, draw.Src)
	}
	g := newGrey(shown.Bounds().Dx(), shown.Bounds().Dy())
	for y := range g.H {
		for x := range g.W {
			g.Pix[y*g.W+x] = float32(shown.Pix[y*shown.Stride+x])
		}
	}
	return g, nil
}

func newGrey(w, h int) grey { return grey{w, h, make([]float32, w*h)} }

// turned gives the picture turned and mirrored in one of eight ways; 0 is as it is, and four and more are mirrored.
func (g grey) turned(way int) grey {
	w, h := g.W, g.H
	if way%2 == 1 {
		w, h = h, w
	}
	out := newGrey(w, h)
	for y := range h {
		for x := range w {
			u, v := x, y
			if way >= 4 {
				u = w - 1 - x
			}
			switch way % 4 {
			case 1:
				u, v = v, w-1-u
			case 2:
				u, v = w-1-u, h-1-v
			case 3:
				u, v = h-1-v, u
			}
			out.Pix[y*w+x] = g.Pix[v*g.W+u]
		}
	}
	return out
}

// shrunk gives the picture at w x h pixels, each the mean of its area.
func (g grey) shrunk(w, h int) grey {
	rows := newGrey(w, g.H)
	for y := range g.H {
		means(g.Pix[y*g.W:(y+1)*g.W], 1, rows.Pix[y*w:], 1, g.W, w)
	}
	out := newGrey(w, h)
	for x := range w {
		means(rows.Pix[x:], w, out.Pix[x:], w, g.H, h)
	}
	return out
}

// means shares n numbers out to m cells of equal length and gives each cell's mean; steps are those from one to the next.
func means(from []float32, step int, to []float32, toStep, n, m int) {
	cell := float64(n) / float64(m)
	for i := range m {
		a, b := float64(i)*cell, float64(i+1)*cell
		sum := 0.0
		for j := int(a); j < n && float64(j) < b; j++ {
			sum += float64(from[j*step]) * (min(b, float64(j+1)) - max(a, float64(j)))
		}
		to[i*toStep] = float32(sum / cell)
	}
}

// correlation is that of two pictures of one size, -1..1; 0 where one of them is flat.
func correlation(a, b grey) float64 {
	var m moments
	for i, v := range a.Pix {
		m.add(float64(v), float64(b.Pix[i]))
	}
	return m.correlation()
}
