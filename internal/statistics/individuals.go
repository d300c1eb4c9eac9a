package statistics

import (
	"errors"
	"math"
)

// Constants of control charts for moving ranges of two points, calculated from the normal distribution; they agree with
// the published tables (ISO 7870-2): d2 is the mean range over the standard deviation, D4 the upper limit of a range over
// the mean range.
const (
	d2OfTwo = 1.1284
	upperD4 = 3.267
)

// RunLength points in a row on one side of the centre, or TrendLength points each above the last one (or each below), are
// a signal. The rules are those of ISO 7870-2 as far as they are known from memory; the standard was not re-read, and
// handbooks differ (7 to 9 for the one, 6 or 7 for the other). A process without any change gives eight on one side from a
// given place on in 1 of 128 cases, seven in order in 1 of 2520.
const (
	RunLength   = 8
	TrendLength = 7
)

// FewPoints is the number of points from which limits are usually trusted (common practice, no source).
const FewPoints = 20

// SignalKind says by which rule a chart speaks.
type SignalKind string

// The kinds of signals.
const (
	Beyond      SignalKind = "beyond"       // a point outside the limits
	Run         SignalKind = "run"          // RunLength points or more on one side of the centre
	Trend       SignalKind = "trend"        // TrendLength points or more that rise, or fall, one after the other
	RangeBeyond SignalKind = "range_beyond" // a step from one point to the next above the limit of moving ranges
)

// Signal is a place where a chart says that something other than chance was at work. First and Last are indices of
// points (of a range: of the two points that it lies between). Up tells above from below, and rising from falling.
type Signal struct {
	Kind        SignalKind
	First, Last int
	Up          bool
}

// Chart is an individuals and moving range chart. All but the indices have the unit of the values.
type Chart struct {
	Values               []float64
	Centre, Lower, Upper float64
	// MovingRanges has one less than Values: the absolute step from each point to the next.
	MovingRanges          []float64
	MeanRange, RangeUpper float64
	// Sigma is the standard deviation of the process without drift, as its moving ranges tell it.
	Sigma   float64
	Signals []Signal
	// Drift is the straight line through the values over their index, so that its slope is the change from one point to the
	// next, with its 95 % interval.
	Drift Line
	// Few says that there are less than FewPoints points, so that the limits themselves are rough.
	Few bool
}

// IndividualsChart draws up the chart of values in the order in which they were made (ISO 7870-2, charts for single
// values): centre the mean, limits the mean ± 3/d2 mean moving range (2.66 of it), upper limit of the moving ranges D4
// times their mean. A point without any change falls outside in 1 of 370 cases, so that many charts of many
// points show some by chance. The rules take values to be about normal: they do not suit counts, nor values that stand
// at an end of their range (a gap of 0, a completeness of 1). There must be three values or more, all numbers.
func IndividualsChart(values []float64) (Chart, error) {
	if len(values) < 3 {
		return Chart{}, errors.New("a chart needs three values or more")
	}
	c := Chart{Values: values, Centre: mean(values), Few: len(values) < FewPoints}
	index := make([]float64, len(values))
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Chart{}, errors.New("a chart needs numbers: leave out what was not measured")
		}
		index[i] = float64(i)
		if i > 0 {
			c.MovingRanges = append(c.MovingRanges, math.Abs(v-values[i-1]))
		}
	}
	c.MeanRange = mean(c.MovingRanges)
	c.Sigma = c.MeanRange / d2OfTwo
	c.Lower, c.Upper = c.Centre-3*c.Sigma, c.Centre+3*c.Sigma
	c.RangeUpper = upperD4 * c.MeanRange
	drift, err := Fit(index, values, Usual)
	if err != nil {
		return Chart{}, err
	}
	c.Drift = drift
	c.Signals = c.signals()
	return c, nil
}

// signals applies the rules, rule by rule, each in the order of the points.
func (c Chart) signals() []Signal {
	var all []Signal
	for i, v := range c.Values {
		if v > c.Upper || v < c.Lower {
			all = append(all, Signal{Beyond, i, i, v > c.Upper})
		}
	}
	side := func(i int) int { return sign(c.Values[i] - c.Centre) }
	all = append(all, stretches(len(c.Values), RunLength, Run, side)...)
	// A trend of n points has n-1 steps, and ends one point behind its last step.
	step := func(i int) int { return sign(c.Values[i+1] - c.Values[i]) }
	for _, s := range stretches(len(c.Values)-1, TrendLength-1, Trend, step) {
		s.Last++
		all = append(all, s)
	}
	for i, r := range c.MovingRanges {
		if r > c.RangeUpper {
			all = append(all, Signal{RangeBeyond, i, i + 1, true})
		}
	}
	return all
}

// stretches finds the longest stretches of equal sign, not 0, that have at least so many places.
func stretches(n, least int, kind SignalKind, signAt func(int) int) []Signal {
	var found []Signal
	for first := 0; first < n; {
		s, last := signAt(first), first
		for last+1 < n && signAt(last+1) == s {
			last++
		}
		if s != 0 && last-first+1 >= least {
			found = append(found, Signal{kind, first, last, s > 0})
		}
		first = last + 1
	}
	return found
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// Blurred lists the points that tell more of their measurement than of the process: their standard uncertainty is larger
// than Sigma. us are expanded uncertainties (k = 2), one for each value.
func (c Chart) Blurred(us []float64) []int {
	if len(us) != len(c.Values) {
		panic("statistics: every value needs its uncertainty")
	}
	var at []int
	for i, u := range us {
		if u/2 > c.Sigma {
			at = append(at, i)
		}
	}
	return at
}

// Until is the number of points after the last one at which the drift's line meets a limit; ok only where the
// drift is more than scatter and goes towards the limit. It is an extrapolation: a reason to look, not a forecast.
func (c Chart) Until(limit float64) (points float64, ok bool) {
	if !c.Drift.Sloped() {
		return 0, false
	}
	points = (limit-c.Drift.At0)/c.Drift.Slope - float64(len(c.Values)-1)
	return points, points > 0
}
