package shape

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
	"crimprule/vision/section/raster"
)

// The shapes in this file are of plain geometry (straight lines, circles), so what is expected follows from school
// geometry alone.

// lobes is an outline 3 wide: a rectangle 1.25 high with two half circles of radius 0.75 on top, so 2 high with a notch
// down to 1.25; burr, where given, replaces the lower right corner.
func lobes(burr ...raster.Point) []raster.Point {
	p := []raster.Point{{X: -1.5}}
	if len(burr) == 0 {
		burr = []raster.Point{{X: 1.5}}
	}
	p = append(p, burr...)
	for _, mid := range []float64{0.75, -0.75} {
		for k := range 181 {
			a := float64(k) * math.Pi / 180
			p = append(p, raster.Point{X: mid + 0.75*math.Cos(a), Y: 1.25 + 0.75*math.Sin(a)})
		}
	}
	return p
}

// room is a cavity between x = -1 and 1, floor at 0.5, roof at 1.1, whose roof comes down to two square tips 0.3 wide at
// x = -0.4..-0.05 and 0.05..0.4 (left at 0.8, right at 0.75) with a cusp of width 0.1 between them that ends at (0, 1.0).
func room() []raster.Point {
	return []raster.Point{
		{X: -1, Y: 0.5}, {X: 1, Y: 0.5}, {X: 1, Y: 1.1}, {X: 0.4, Y: 1.1}, {X: 0.4, Y: 0.75}, {X: 0.05, Y: 0.75},
		{X: 0, Y: 1.0}, {X: -0.05, Y: 0.8}, {X: -0.4, Y: 0.8}, {X: -0.4, Y: 1.1}, {X: -1, Y: 1.1},
	}
}

func values(t *testing.T, in Input) (map[record.Key]Value, Found) {
	t.Helper()
	f, err := Measure(in)
	require.NoError(t, err)
	return f.Values, f
}

func TestPlainGeometry(t *testing.T) {
	v, f := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{room()}})
	for k, want := range map[record.Key]float64{
		record.CrimpHeight: 2, record.CrimpWidth: 3, record.FloorThickness: 0.5,
		record.WingTipFloorLeft: 0.3, record.WingTipFloorRight: 0.25, record.WingTipHeightDifference: 0.05,
		record.WingOpening: 0, record.BurrHeightLeft: 0, record.BurrWidthRight: 0,
	} {
		require.Empty(t, v[k].Missing, k)
		require.InDelta(t, want, v[k].Value, 0.002, k)
	}
	// Left of x = 0: 1 x 0.6 less the wing's 0.35 x 0.3 less the triangle between (0, 1.1), (0, 1), (-0.05, 0.8) and
	// (-0.05, 1.1); right likewise. The contact lies where the cusp is 7 um wide, at x = 0.0007.
	left := 0.6 - 0.35*0.3 - 0.05*(0.1+0.3)/2
	right := 0.6 - 0.35*0.35 - 0.05*(0.1+0.35)/2
	require.InDelta(t, left, f.AreaLeft, 0.001)
	require.InDelta(t, right, f.AreaRight, 0.001)
	require.InDelta(t, right/left, v[record.Symmetry].Value, 0.003)
	require.InDelta(t, 1.25, f.Notch.Y, 0.01)
	require.InDelta(t, 0, f.Contact.X, 0.003)
}

func TestBurrOnOneSide(t *testing.T) {
	burr := []raster.Point{{X: 1.4}, {X: 1.5, Y: -0.1}, {X: 1.58, Y: -0.1}, {X: 1.6, Y: -0.08}, {X: 1.6, Y: -0.02}, {X: 1.5, Y: 0.1}}
	v, _ := values(t, Input{Outer: lobes(burr...), Cavities: [][]raster.Point{room()}})
	for k, want := range map[record.Key]float64{
		record.CrimpHeight: 2, record.CrimpWidth: 3, record.FloorThickness: 0.5,
		record.BurrHeightRight: 0.1, record.BurrWidthRight: 0.1, record.BurrHeightLeft: 0, record.BurrWidthLeft: 0,
	} {
		require.InDelta(t, want, v[k].Value, 0.003, k)
	}
	require.Positive(t, v[record.BurrHeightLeft].U)
}

func TestCrackInTheFloorIsBridged(t *testing.T) {
	crack := append([]raster.Point{{X: -1, Y: 0.5}, {X: 0.48, Y: 0.5}, {X: 0.5, Y: 0.3}, {X: 0.52, Y: 0.5}}, room()[1:]...)
	v, _ := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{crack}})
	require.InDelta(t, 0.5, v[record.FloorThickness].Value, 0.004)
	require.InDelta(t, 0.25, v[record.WingTipFloorRight].Value, 0.004)
}

func TestDentInTheFloorCounts(t *testing.T) {
	dent := []raster.Point{{X: -1, Y: 0.5}, {X: 0.3, Y: 0.5}}
	for x := -0.2; x <= 0.2001; x += 0.02 { // a round dent 0.04 deep
		dent = append(dent, raster.Point{X: 0.5 + x, Y: 0.5 - 0.04*(1-x*x/0.04)})
	}
	v, _ := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{append(dent, room()[1:]...)}})
	require.InDelta(t, 0.46, v[record.FloorThickness].Value, 0.002)
}

// channelled is lobes with an open channel 0.1 wide from the notch into room.
func channelled() []raster.Point {
	p := []raster.Point{{X: -1.5}, {X: 1.5}}
	arc := func(mid float64, from, to int) {
		for k := from; k <= to; k++ {
			a := float64(k) * math.Pi / 180
			p = append(p, raster.Point{X: mid + 0.75*math.Cos(a), Y: 1.25 + 0.75*math.Sin(a)})
		}
	}
	arc(0.75, 0, 158)
	p = append(p, raster.Point{X: 0.05, Y: 1.5}, raster.Point{X: 0.05, Y: 0.75}, raster.Point{X: 0.4, Y: 0.75}, raster.Point{X: 0.4, Y: 1.1},
		raster.Point{X: 1, Y: 1.1}, raster.Point{X: 1, Y: 0.5}, raster.Point{X: -1, Y: 0.5}, raster.Point{X: -1, Y: 1.1},
		raster.Point{X: -0.4, Y: 1.1}, raster.Point{X: -0.4, Y: 0.8}, raster.Point{X: -0.05, Y: 0.8}, raster.Point{X: -0.05, Y: 1.5})
	arc(-0.75, 22, 180)
	return p
}

func TestOpenChannel(t *testing.T) {
	v, f := values(t, Input{Outer: channelled()})
	for k, want := range map[record.Key]float64{
		record.CrimpHeight: 2, record.CrimpWidth: 3, record.FloorThickness: 0.5, record.WingOpening: 0.1,
		record.WingTipFloorLeft: 0.3, record.WingTipFloorRight: 0.25, record.WingTipHeightDifference: 0.05,
	} {
		require.Empty(t, v[k].Missing, k)
		require.InDelta(t, want, v[k].Value, 0.002, k)
	}
	require.InDelta(t, 0, f.Contact.X, 0.003)
	require.InDelta(t, 0.1, dist(f.Link[0], f.Link[1]), 0.002)
	require.Less(t, f.Link[0].X, f.Link[1].X)
}

// The left wing stands on the floor, the channel is open: the pocket behind that wing is a piece of its own.
func TestOpenChannelWithATipOnTheFloor(t *testing.T) {
	p := channelled()
	out := p[:0:0]
	for _, q := range p { // the left bank runs down to the floor; what lies left of it is cut off
		if q.Y < 1.2 && q.Y > 0.4 && q.X < -0.01 && q.X > -1.2 {
			if q.X == -1 && q.Y == 0.5 {
				out = append(out, raster.Point{X: -0.05, Y: 0.5})
			}
			continue
		}
		out = append(out, q)
	}
	pocket := []raster.Point{{X: -1, Y: 0.5}, {X: -0.4, Y: 0.5}, {X: -0.4, Y: 1.1}, {X: -1, Y: 1.1}}
	dense := even(pocket, 0.02)
	v, f := values(t, Input{Outer: out, Cavities: [][]raster.Point{dense.p}})
	require.Zero(t, v[record.WingTipFloorLeft].Value)
	require.InDelta(t, 0.25, v[record.WingTipFloorRight].Value, 0.002)
	require.InDelta(t, 0.25, v[record.WingTipHeightDifference].Value, 0.004)
	require.InDelta(t, 0.1, v[record.WingOpening].Value, 0.002)
	require.InDelta(t, 0.36, f.AreaLeft, 0.1) // the pocket and half the channel
}

func TestPocketInTheSeamAndVoidsAreNoCavity(t *testing.T) {
	small := []raster.Point{{X: -0.02, Y: 1.1}, {X: 0.0, Y: 1.08}, {X: 0.02, Y: 1.1}, {X: 0.02, Y: 1.15}, {X: 0.02, Y: 1.2}, {X: 0, Y: 1.22}, {X: -0.02, Y: 1.2}, {X: -0.02, Y: 1.15}}
	a, _ := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{room()}})
	b, _ := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{small, room()}})
	for k := range a {
		require.InDelta(t, a[k].Value, b[k].Value, 1e-9, k)
	}
}

func TestNoNotchLeavesTheHeights(t *testing.T) {
	block := even([]raster.Point{{X: -1.5}, {X: 1.5}, {X: 1.5, Y: 2}, {X: -1.5, Y: 2}}, 0.05)
	v, _ := values(t, Input{Outer: block.p, Cavities: [][]raster.Point{room()}})
	require.InDelta(t, 2, v[record.CrimpHeight].Value, 0.001)
	require.InDelta(t, 3, v[record.CrimpWidth].Value, 0.001)
	require.Contains(t, v[record.Symmetry].Missing, "notch")
}

func TestRefusals(t *testing.T) {
	nan := lobes()
	nan[5].X = math.NaN()
	flat := make([]raster.Point, 20)
	for i := range flat {
		flat[i] = raster.Point{X: float64(i)}
	}
	for name, c := range map[string]struct {
		outer []raster.Point
		says  string
	}{
		"none": {nil, "0 points"}, "few": {lobes()[:4], "4 points"}, "nan": {nan, "point 5"}, "line": {flat, "no outline"},
	} {
		_, err := Measure(Input{Outer: c.outer})
		require.ErrorContains(t, err, c.says, name)
		_, err = Orient(c.outer)
		require.Error(t, err, name)
	}
	v, _ := values(t, Input{Outer: lobes(), Cavities: [][]raster.Point{{{X: 1}}}})
	require.Contains(t, v[record.FloorThickness].Missing, "piece 1")
	v, _ = values(t, Input{Outer: lobes()})
	require.Contains(t, v[record.FloorThickness].Missing, "no cavity")
}

// Whatever the polygon, there is an answer in words or in finite numbers.
func TestTangledPolygonsDoNotPanic(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	tangle := func(n int) []raster.Point {
		p := make([]raster.Point, n)
		for i := range p {
			a := 2 * math.Pi * float64(i) / float64(n)
			l := 0.2 + 2*r.Float64()*r.Float64()
			p[i] = raster.Point{X: l * math.Cos(a), Y: l * math.Sin(a)}
		}
		return p
	}
	for range 60 {
		in := Input{Outer: tangle(8 + r.Intn(40)), Cavities: [][]raster.Point{tangle(8 + r.Intn(30)), tangle(8)}}
		if r.Intn(2) == 0 {
			in.Outer = lobes()
		}
		f, err := Measure(in)
		if err != nil {
			continue
		}
		for k, v := range f.Values {
			require.False(t, math.IsNaN(v.Value+v.U) || math.IsInf(v.Value+v.U, 0), "%s %v", k, v)
		}
		_, _ = Orient(in.Outer)
	}
}
