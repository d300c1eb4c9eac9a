package section

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/vision/section/raster"
)

func emptyBand(rows, cols int, open bool) band {
	return band{line: make([]raster.Point, rows), normal: make([]raster.Point, rows), reach: float64(cols / 2), step: 1, cols: cols, open: open,
		value: make([]float64, rows*cols)}
}

// A ridge of known place in noise is followed to a fraction of a column, round a closed line and along an open one.
func TestFollowFindsAKnownWay(t *testing.T) {
	const rows, cols = 240, 41
	for _, open := range []bool{false, true} {
		random := rand.New(rand.NewPCG(5, 8))
		b := emptyBand(rows, cols, open)
		way := make([]float64, rows)
		for r := range rows {
			a := 2 * math.Pi * float64(r) / rows
			way[r] = 20 + 9*math.Sin(a) + 3*math.Cos(5*a)
			if open {
				way[r] += 0.03 * float64(r)
			}
			for c := range cols {
				d := float64(c) - way[r]
				b.value[r*cols+c] = math.Exp(-d*d/(2*1.5*1.5)) + 0.15*random.Float64()
				if e := float64(c) - 7; r > 80 && r < 95 && math.Abs(e) < 2 { // a short stain far off
					b.value[r*cols+c] += 0.9
				}
			}
		}
		got := b.follow(0.02)
		require.Len(t, got, rows)
		sum := 0.
		for r := range rows {
			assert.InDelta(t, way[r], got[r], 1.5, "row %d", r)
			sum += (got[r] - way[r]) * (got[r] - way[r])
		}
		assert.Less(t, math.Sqrt(sum/rows), 0.35)
	}
}

// On small bands the way found is the best of all ways, each tried.
func TestFollowIsTheBestOfAllWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows, cols := rapid.IntRange(2, 5).Draw(t, "rows"), 5
		b := emptyBand(rows, cols, rapid.Bool().Draw(t, "open"))
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)) // no two ways are equally good
		for i := range b.value {
			b.value[i] = random.Float64()
		}
		bend := rapid.Float64Range(0, 0.3).Draw(t, "bend")
		row, col := b.clearest()
		best, want := math.Inf(-1), make([]int, rows)
		way := make([]int, rows)
		var try func(r int)
		try = func(r int) {
			if r < rows {
				for way[r] = range cols {
					try(r + 1)
				}
				return
			}
			if !b.open && way[row] != col {
				return
			}
			sum := 0.
			for r, c := range way {
				sum += b.value[r*cols+c]
				if r == 0 && b.open {
					continue
				}
				d := c - way[(r+rows-1)%rows]
				if d < -2 || d > 2 {
					return
				}
				sum -= bend * float64(d*d)
			}
			if sum > best {
				best = sum
				copy(want, way)
			}
		}
		try(0)
		got := b.follow(bend)
		require.Len(t, got, rows)
		for r := range rows {
			assert.InDelta(t, float64(want[r]), got[r], 0.5, "row %d", r) // the column, refined by up to half
		}
	})
}

// A parabola's top is found exactly; the rim's columns are left as they are.
func TestPeak(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		top := rapid.Float64Range(1.5, 5.5).Draw(t, "top")
		b := emptyBand(1, 8, true)
		for c := range b.cols {
			b.value[c] = 3 - 0.1*(float64(c)-top)*(float64(c)-top)
		}
		assert.InDelta(t, top, b.peak(0, int(math.Round(top))), 1e-9)
		assert.Zero(t, b.peak(0, 0))
		assert.InDelta(t, 7, b.peak(0, 7), 0)
	})
}

// A band reads what lies across the line: about a circle, a picture of distances from its middle.
func TestUnroll(t *testing.T) {
	var circle []raster.Point
	for k := range 360 {
		sin, cos := math.Sincos(2 * math.Pi * float64(k) / 360)
		circle = append(circle, raster.Point{X: 50 + 30*cos, Y: 40 + 30*sin})
	}
	distance := func(raster.Point) func(x, y float64) float64 {
		return func(x, y float64) float64 { return math.Hypot(x-50, y-40) }
	}
	b := unroll(circle, 6, 0.5, distance)
	assert.Equal(t, 25, b.cols)
	for r := range b.line {
		for c := range b.cols {
			assert.InDelta(t, 30+b.offset(float64(c)), b.value[r*b.cols+c], 1e-9)
			p := b.point(r, float64(c))
			assert.InDelta(t, b.value[r*b.cols+c], math.Hypot(p.X-50, p.Y-40), 1e-9)
		}
	}
	for _, v := range b.smoothed(2, 1).slope().value[3*25+5 : 3*25+20] {
		assert.InDelta(t, 0.5, v, 1e-9, "half a px a column")
	}
	at, value := some(circle, 7, 6, 0.5, distance).profile()
	for i := range at {
		assert.InDelta(t, 30+at[i], value[i], 1e-9)
	}
}
