package statistics

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Line is a straight line y = At0 + Slope x that was fitted to points by least squares, each point counting alike.
// UAt0 and USlope are standard uncertainties from the scatter Residual (standard deviation about the line, n-2 degrees of
// freedom); SlopeLow and SlopeHigh are the ends of the slope's interval at the confidence that was asked for, by Student's t.
type Line struct {
	N                   int
	At0, Slope          float64
	UAt0, USlope        float64
	Residual            float64
	SlopeLow, SlopeHigh float64
}

// Fit fits a Line. Ordinary least squares with its textbook variances (JCGM 100:2008, H.3.3); it takes the points'
// errors for independent of each other and of one spread. There must be three points or more, not all at one x.
func Fit(xs, ys []float64, confidence float64) (Line, error) {
	mustBeShare(0, 0, confidence)
	if len(xs) != len(ys) {
		panic("statistics: every x needs a y")
	}
	n := float64(len(xs))
	if n < 3 {
		return Line{}, errors.New("a line with its uncertainty needs three points or more")
	}
	meanX, meanY := mean(xs), mean(ys)
	sxx, sxy := 0.0, 0.0
	for i := range xs {
		sxx += (xs[i] - meanX) * (xs[i] - meanX)
		sxy += (xs[i] - meanX) * (ys[i] - meanY)
	}
	if !(sxx > 0) || math.IsInf(sxx, 0) || math.IsNaN(sxy) || math.IsInf(sxy, 0) {
		return Line{}, errors.New("a line needs points at different places, and numbers")
	}
	l := Line{N: len(xs), Slope: sxy / sxx}
	l.At0 = meanY - l.Slope*meanX
	sum := 0.0
	for i := range xs {
		d := ys[i] - meanY - l.Slope*(xs[i]-meanX)
		sum += d * d
	}
	l.Residual = math.Sqrt(sum / (n - 2))
	l.USlope = l.Residual / math.Sqrt(sxx)
	l.UAt0 = l.Residual * math.Sqrt(1/n+meanX*meanX/sxx)
	half := l.USlope * distuv.StudentsT{Sigma: 1, Nu: n - 2}.Quantile(0.5+confidence/2)
	l.SlopeLow, l.SlopeHigh = l.Slope-half, l.Slope+half
	return l, nil
}

// Sloped tells whether the interval of the slope leaves 0 out: the values rise or fall by more than their scatter explains.
func (l Line) Sloped() bool { return l.SlopeLow > 0 || l.SlopeHigh < 0 }

func mean(vs []float64) float64 {
	sum := 0.0
	for _, v := range vs {
		sum += v
	}
	return sum / float64(len(vs))
}
