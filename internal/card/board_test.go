package card_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/internal/card"
	"crimprule/vision/scale"
	"crimprule/vision/tag"
)

// turned draws the card at ppm pixels a millimetre, turned by some degrees about its middle, which lies in the picture's
// middle, and gives where its places lie.
func turned(p card.Page, ppm, degrees float64, w, h int) (pix []byte, at func(x, y float64) (px, py float64)) {
	drawn := p.Draw(ppm)
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	mx, my := float64(w-1)/2, float64(h-1)/2
	pix = make([]byte, w*h)
	tone := func(i, j int) float64 {
		if i < 0 || j < 0 || i >= drawn.Rect.Dx() || j >= drawn.Rect.Dy() {
			return 90 // the table
		}
		return float64(drawn.Pix[j*drawn.Stride+i])
	}
	for y := range h {
		for x := range w {
			u, v := float64(x)-mx, float64(y)-my
			i := cos*u + sin*v + p.W*ppm/2 - 0.5
			j := -sin*u + cos*v + p.H*ppm/2 - 0.5
			i0, j0 := math.Floor(i), math.Floor(j)
			fi, fj := i-i0, j-j0
			a, b := int(i0), int(j0)
			pix[y*w+x] = byte((1-fj)*((1-fi)*tone(a, b)+fi*tone(a+1, b)) + fj*((1-fi)*tone(a, b+1)+fi*tone(a+1, b+1)))
		}
	}
	return pix, func(x, y float64) (float64, float64) {
		u, v := (x-p.W/2)*ppm, (y-p.H/2)*ppm
		return cos*u - sin*v + mx, sin*u + cos*v + my
	}
}

// What measures finds the board that the card promises, with every corner and no other, though a code, patches and lines
// stand around it; and the code says what it was given.
func TestTheBoardIsFoundAndTheCodeIsRead(t *testing.T) {
	for _, c := range []struct {
		size, tag    string
		ground       card.Ground
		ppm, degrees float64
		corners      int
	}{
		{"A6", "canopy-north string-03 crimp-01", card.Grey, 14, 0, 7 * 9},
		{"A6", "", card.White, 14, 90, 7 * 9},
		{"A6", "canopy-north string-03 crimp-02", card.White, 10, -33, 7 * 9},
		{"A5", "workshop trainee 3, crimp 7", card.Grey, 10, 4, 11 * 15},
		{"A5", "7", card.White, 10, 183, 11 * 15},
	} {
		p, err := card.New(card.Options{Size: c.size, Ground: c.ground, Tag: c.tag})
		require.NoError(t, err)
		pix, at := turned(p, c.ppm, c.degrees, 2400, 2300)
		grey, err := gocv.NewMatFromBytes(2300, 2400, gocv.MatTypeCV8UC1, pix)
		require.NoError(t, err)
		ref, err := scale.Chessboard(grey, card.SquareMM, 0)
		require.NoError(t, err)
		assert.Len(t, ref.Points, c.corners, "%s", c.size)
		for j := 1; j < p.Board.Rows; j++ {
			for i := 1; i < p.Board.Cols; i++ {
				x, y := at(p.Board.X+float64(i)*card.SquareMM, p.Board.Y+float64(j)*card.SquareMM)
				nearest := math.Inf(1)
				for _, q := range ref.Points {
					nearest = min(nearest, math.Hypot(q.X-x, q.Y-y))
				}
				assert.Less(t, nearest, 0.15, "%s: corner %d, %d, px", c.size, i, j)
			}
		}
		assert.InEpsilon(t, 1/c.ppm, ref.MMPerPX(1200, 1150, 0), 0.002)

		codes, err := tag.Find(grey, 1/ref.MMPerPX(1200, 1150, 0))
		require.NoError(t, err)
		if c.tag == "" {
			assert.Empty(t, codes)
		} else if assert.Len(t, codes, 1) {
			assert.Equal(t, c.tag, codes[0].Text)
		}
		require.NoError(t, grey.Close())
	}
}
