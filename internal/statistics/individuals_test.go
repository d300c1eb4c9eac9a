package statistics

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// newSource gives every run the same draws.
func newSource(seed uint64) rand.Source { return rand.NewPCG(seed, 1) }

// TestIndividualsChart: the flow rates of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, with its results
// (data and results from memory): mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041 with d2 = 1.128.
func TestIndividualsChart(t *testing.T) {
	c, err := IndividualsChart([]float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1})
	require.NoError(t, err)
	assert.InDelta(t, 50.81, c.Centre, 1e-9)
	assert.InDelta(t, 1.8778, c.MeanRange, 5e-5)
	assert.InDeltaSlice(t, []float64{2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5}, c.MovingRanges, 1e-9)
	// Their d2 has three decimals, ours four: 4.9941 against 4.9924 from the centre.
	assert.InDelta(t, 45.8159, c.Lower, 0.002)
	assert.InDelta(t, 55.8041, c.Upper, 0.002)
	assert.Empty(t, c.Signals)
	assert.True(t, c.Few)
}

// TestChartConstants: the factors as control charts print them (2.66 and 3.267 for two points).
func TestChartConstants(t *testing.T) {
	c, err := IndividualsChart([]float64{10, 11, 10, 11, 10})
	require.NoError(t, err)
	assert.InDelta(t, 1, c.MeanRange, 1e-12)
	assert.InDelta(t, 2.66, c.Upper-c.Centre, 0.005)
	assert.InDelta(t, 2.66, c.Centre-c.Lower, 0.005)
	assert.InDelta(t, 3.267, c.RangeUpper, 1e-12)
	// d2 of two normal values is 2/sqrt(pi), D4 is 1 + 3 d3/d2 with d3 = sqrt(2 - 4/pi): both in closed form.
	assert.InDelta(t, 2/math.Sqrt(math.Pi), d2OfTwo, 5e-5)
	assert.InDelta(t, 1+3*math.Sqrt(2-4/math.Pi)/(2/math.Sqrt(math.Pi)), upperD4, 5e-4)
}

func TestSignals(t *testing.T) {
	level := func(n int, rest ...float64) []float64 { // n points about 0, then others
		vs := make([]float64, n)
		for i := range vs {
			vs[i] = []float64{0.5, -0.5}[i%2]
		}
		return append(vs, rest...)
	}
	for name, c := range map[string]struct {
		values []float64
		want   []Signal
	}{
		"nothing":                      {level(30), nil},
		"one far point":                {level(30, 9, 0.5, -0.5), []Signal{{Beyond, 30, 30, true}, {RangeBeyond, 29, 30, true}, {RangeBeyond, 30, 31, true}}},
		"seven on one side are chance": {append(level(20), 1, 2, 1, 2, 1, 2, 1, -9), []Signal{{Beyond, 27, 27, false}, {RangeBeyond, 26, 27, true}}},
		"eight on one side":            {append(level(20), 1, 2, 1, 2, 1, 2, 1, 2, -13), []Signal{{Beyond, 28, 28, false}, {Run, 20, 27, true}, {RangeBeyond, 27, 28, true}}},
		"six in order are chance":      {append(level(11), -1, 0, 1, -1.5, -0.9, -0.3, 0.3, 0.9, 1.5, -1), nil},
		"seven in order":               {append(level(11), -1, 0, 1, -1.8, -1.2, -0.6, 0, 0.6, 1.2, 1.8, -1), []Signal{{Trend, 14, 20, true}}},
		"falling":                      {[]float64{7, 6, 5, 4, 3, 2, 1}, []Signal{{Beyond, 0, 0, true}, {Beyond, 6, 6, false}, {Trend, 0, 6, false}}},
		"all alike":                    {[]float64{3, 3, 3, 3, 3, 3, 3, 3, 3, 3}, nil},
	} {
		chart, err := IndividualsChart(c.values)
		require.NoError(t, err)
		assert.Equal(t, c.want, chart.Signals, name)
	}
}

// TestFalseAlarms: a process without any change falls outside the limits in 0.27 % of its points (the normal
// distribution beyond three standard deviations). 100 000 points, so ± 0.0005 is three standard deviations of the count.
func TestFalseAlarms(t *testing.T) {
	noise := distuv.Normal{Mu: 0.9, Sigma: 0.02, Src: newSource(1)}
	values := make([]float64, 100000)
	for i := range values {
		values[i] = noise.Rand()
	}
	c, err := IndividualsChart(values)
	require.NoError(t, err)
	beyond := 0
	for _, s := range c.Signals {
		if s.Kind == Beyond {
			beyond++
		}
	}
	assert.InDelta(t, 0.0027, float64(beyond)/float64(len(values)), 0.0005)
	assert.InDelta(t, 0.02, c.Sigma, 0.0003)
	assert.False(t, c.Few)
}

// TestDrift: a die that wears, whose symmetry falls by 0.002 a crimp in a scatter of 0.01, shows as a drift of that size,
// and its line meets a limit where the true line does.
func TestDrift(t *testing.T) {
	noise := distuv.Normal{Sigma: 0.01, Src: newSource(3)}
	values := make([]float64, 40)
	for i := range values {
		values[i] = 0.95 - 0.002*float64(i) + noise.Rand()
	}
	c, err := IndividualsChart(values)
	require.NoError(t, err)
	assert.True(t, c.Drift.Sloped())
	assert.True(t, c.Drift.SlopeLow <= -0.002 && -0.002 <= c.Drift.SlopeHigh)
	assert.NotEmpty(t, c.Signals)
	points, ok := c.Until(0.85) // the true line is there at crimp 50, which is 11 after the last
	assert.True(t, ok)
	assert.InDelta(t, 11, points, 5)
	_, ok = c.Until(0.99)
	assert.False(t, ok, "it does not go there")
	still, err := IndividualsChart([]float64{1, 2, 1, 2, 1, 2})
	require.NoError(t, err)
	_, ok = still.Until(3)
	assert.False(t, ok, "there is no drift")
}

func TestBlurred(t *testing.T) {
	c, err := IndividualsChart([]float64{10, 11.1284, 10, 11.1284}) // sigma 1
	require.NoError(t, err)
	assert.Equal(t, []int{2}, c.Blurred([]float64{0.1, 1.9, 2.1, 0}))
	assert.Panics(t, func() { c.Blurred(nil) })
}

func TestChartsThatCannotBe(t *testing.T) {
	_, err := IndividualsChart([]float64{1, 2})
	assert.ErrorContains(t, err, "three values")
	_, err = IndividualsChart([]float64{1, 2, math.NaN()})
	assert.ErrorContains(t, err, "leave out")
}

// TestChartTurnedUpsideDown: mirrored values give the mirrored chart and the same signals the other way up.
func TestChartTurnedUpsideDown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float64 { return float64(i) }), 3, 60).Draw(t, "values")
		mirrored := make([]float64, len(values))
		for i, v := range values {
			mirrored[i] = -v
		}
		a, errA := IndividualsChart(values)
		b, errB := IndividualsChart(mirrored)
		if errA != nil || errB != nil || len(a.Signals) != len(b.Signals) {
			t.Fatalf("%v %v\n%v\n%v", errA, errB, a.Signals, b.Signals)
		}
		for i, s := range a.Signals {
			if s.Kind != RangeBeyond {
				s.Up = !s.Up
			}
			if s != b.Signals[i] {
				t.Fatalf("%v and %v", s, b.Signals[i])
			}
		}
		if math.Abs(a.Upper+b.Lower) > 1e-9 || math.Abs(a.Drift.Slope+b.Drift.Slope) > 1e-9 {
			t.Fatal("limits or drift do not mirror")
		}
	})
}
