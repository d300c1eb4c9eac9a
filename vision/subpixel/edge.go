// Package subpixel locates edges between samples and fits lines, circles and ellipses to places. It is pure Go on
// slices of numbers: it knows nothing of pictures.
//
// Units are those of the input (samples, px or mm). Uncertainties are standard uncertainties (k = 1) from the fit's own
// residuals, under the assumption that these are independent; a systematic error common to all samples is not in them.
package subpixel

import (
	"errors"
	"math"
)

// Edge is a step of brightness found in a profile.
type Edge struct {
	Pos    float64 // in samples; 0 is the first sample's centre
	U      float64 // standard uncertainty of Pos
	Sigma  float64 // standard deviation of the blur, samples
	Step   float64 // brightness after less brightness before: negative for a falling edge
	Before float64 // brightness before the edge
	SD     float64 // standard deviation of the residuals
}

// Rise is the distance from 10 to 90 % of the step: 2.5631 sigma for a Gaussian blur.
func (e Edge) Rise() float64 { return 2 * 1.2815515655446004 * e.Sigma }

// ErrNoEdge says that a profile holds no step that can be told from its noise.
var ErrNoEdge = errors.New("the profile holds no clear edge")

const (
	minSamples   = 5
	minSigma     = 0.3 // samples; a sharper step cannot be told from this one
	clearStep    = 3.  // a step must exceed this many standard deviations of the residuals
	edgeRounds   = 25
	edgeSettled  = 1e-5
	sqrt2Pi      = 2.5066282746310002
	edgeUnknowns = 4
)

// FindEdge locates the one step of a profile by least squares of a blurred step,
// before + step·Φ((x-pos)/sigma), after a start from Centroid. Under independent Gaussian noise this is the maximum
// likelihood estimate: without bias for a straight edge under a symmetric blur, with a variance of about
// (noise/step)²·2·sqrt(pi)·sigma for a long profile, a fifth more for one of 20 sigma. (The erf model: Hagara and Kulla,
// "Edge detection with sub-pixel accuracy based on approximation of edge with erf function".) A curved edge comes out
// shifted towards its centre, see CurvatureShift. The error is ErrNoEdge where no step stands out from the residuals.
func FindEdge(profile []float64) (Edge, error) {
	start, err := Centroid(profile)
	if err != nil {
		return Edge{}, err
	}
	e := start
	cost := e.cost(profile)
	lambda := 1e-3
	a, b := e.normal(profile)
	for range edgeRounds {
		next, moved := e.step(a, b, lambda)
		if c := next.cost(profile); c < cost {
			e, cost, lambda = next, c, lambda/10
			a, b = e.normal(profile)
			if moved < edgeSettled {
				break
			}
		} else if lambda *= 10; lambda > 1e8 {
			break
		}
	}
	n := len(profile)
	e.SD = math.Sqrt(cost / float64(max(n-edgeUnknowns, 1)))
	inverse, ok := invert4(a)
	if !ok || e.Pos < 0 || e.Pos > float64(n-1) || math.Abs(e.Step) <= clearStep*e.SD {
		return Edge{}, ErrNoEdge
	}
	e.U = e.SD * math.Sqrt(math.Max(0, inverse[0][0]))
	return e, nil
}

func (e Edge) at(x float64) float64 {
	return e.Before + e.Step*0.5*math.Erfc(-(x-e.Pos)/(e.Sigma*math.Sqrt2))
}

func (e Edge) cost(profile []float64) float64 {
	s := 0.
	for i, v := range profile {
		d := v - e.at(float64(i))
		s += d * d
	}
	return s
}

// normal gives the normal equations for (Pos, Sigma, Step, Before).
func (e Edge) normal(profile []float64) (a [4][4]float64, b [4]float64) {
	for i, v := range profile {
		t := (float64(i) - e.Pos) / e.Sigma
		phi := math.Exp(-t*t/2) / sqrt2Pi
		rise := 0.5 * math.Erfc(-t/math.Sqrt2)
		j := [4]float64{-e.Step * phi / e.Sigma, -e.Step * phi * t / e.Sigma, rise, 1}
		r := v - e.Before - e.Step*rise
		for k := range 4 {
			for l := k; l < 4; l++ {
				a[k][l] += j[k] * j[l]
			}
			b[k] += j[k] * r
		}
	}
	for k := range 4 {
		for l := range k {
			a[k][l] = a[l][k]
		}
	}
	return a, b
}

func (e Edge) step(a [4][4]float64, b [4]float64, lambda float64) (Edge, float64) {
	for k := range 4 {
		a[k][k] += lambda*a[k][k] + 1e-12
	}
	inverse, ok := invert4(a)
	if !ok {
		return e, math.Inf(1)
	}
	var d [4]float64
	for k := range 4 {
		for l := range 4 {
			d[k] += inverse[k][l] * b[l]
		}
	}
	e.Pos += d[0]
	e.Sigma = math.Max(minSigma, e.Sigma+d[1])
	e.Step += d[2]
	e.Before += d[3]
	return e, math.Abs(d[0])
}

// Centroid locates the step as the centre of gravity of the differences between samples: fast, linear in brightness
// and so without bias from noise, but noisier than FindEdge, since flat samples count in full. Sigma is from the second
// moment. U stays 0: it is not known from this.
func Centroid(profile []float64) (Edge, error) {
	n := len(profile)
	if n < minSamples {
		return Edge{}, ErrNoEdge
	}
	e := Edge{Before: profile[0], Step: profile[n-1] - profile[0]}
	if e.Step == 0 || math.IsNaN(e.Step) {
		return Edge{}, ErrNoEdge
	}
	first, second := 0., 0.
	for i := 1; i < n; i++ {
		g := (profile[i] - profile[i-1]) / e.Step
		x := float64(i) - 0.5
		first += g * x
		second += g * x * x
	}
	if math.IsNaN(first) || first < 0 || first > float64(n-1) {
		return Edge{}, ErrNoEdge
	}
	e.Pos = first
	e.Sigma = math.Max(minSigma, math.Sqrt(math.Max(0, second-first*first-1./12)))
	return e, nil
}

// CurvatureShift is how far the located edge of a disc of the given radius lies towards its centre after a blur of the
// given sigma (same unit): sigma²/(2·radius), good to some per cent while radius > 5 sigma. Add it to a radius
// that was measured on such edges; of a hole it is to be added as well, since holes shrink too.
func CurvatureShift(sigma, radius float64) float64 { return sigma * sigma / (2 * radius) }

// invert4 inverts a symmetric positive matrix by Gauss and Jordan with pivots.
func invert4(a [4][4]float64) (inv [4][4]float64, ok bool) {
	for k := range 4 {
		inv[k][k] = 1
	}
	for k := range 4 {
		p := k
		for r := k + 1; r < 4; r++ {
			if math.Abs(a[r][k]) > math.Abs(a[p][k]) {
				p = r
			}
		}
		if math.Abs(a[p][k]) < 1e-300 || math.IsNaN(a[p][k]) {
			return inv, false
		}
		a[k], a[p] = a[p], a[k]
		inv[k], inv[p] = inv[p], inv[k]
		d := a[k][k]
		for c := range 4 {
			a[k][c] /= d
			inv[k][c] /= d
		}
		for r := range 4 {
			if f := a[r][k]; r != k && f != 0 {
				for c := range 4 {
					a[r][c] -= f * a[k][c]
					inv[r][c] -= f * inv[k][c]
				}
			}
		}
	}
	return inv, true
}
