package shape

import (
	"math"
	"slices"
)

// parabola is s = a + b t + c t², with the robust standard deviation of the points about it.
type parabola struct{ a, b, c, spread float64 }

func (f parabola) at(t float64) float64 { return f.a + t*(f.b+t*f.c) }

// tukey is the biweight's tuning constant: 95 % efficient on normal errors (Huber, Robust Statistics, 1981).
const tukey = 4.685

// fitParabola fits by iterated weights: a few rounds of least absolute values, so that blunders on one side cannot lead
// it astray, then Tukey's biweight.
func fitParabola(t, s []float64) parabola { return fitRobust(t, s, 3) }

// fitLine fits a straight line the same way.
func fitLine(t, s []float64) parabola { return fitRobust(t, s, 2) }

func fitRobust(t, s []float64, order int) parabola {
	w := make([]float64, len(t))
	for i := range w {
		w[i] = 1
	}
	var f parabola
	r := make([]float64, len(t))
	for round := range 9 {
		f = fitWeighted(t, s, w, order)
		for i := range t {
			r[i] = math.Abs(s[i] - f.at(t[i]))
		}
		f.spread = 1.4826 * median(r)
		scale := math.Max(f.spread, 1e-5)
		for i := range w {
			switch u := r[i] / (tukey * scale); {
			case round < 4:
				w[i] = 1 / math.Max(r[i], 0.2*scale)
			case u < 1:
				w[i] = (1 - u*u) * (1 - u*u)
			default:
				w[i] = 0
			}
		}
	}
	return f
}

// fitWeighted is weighted least squares of a parabola (order 3) or a straight line (order 2) by normal equations about
// the middle of t; the widths here are small and centred, so these are well conditioned.
func fitWeighted(t, s, w []float64, order int) parabola {
	var m [5]float64
	var v [3]float64
	for i := range t {
		q := w[i]
		for k := range m {
			m[k] += q
			if k < 3 {
				v[k] += q * s[i]
			}
			q *= t[i]
		}
	}
	if m[0] == 0 {
		return parabola{}
	}
	if det := m[0]*m[2] - m[1]*m[1]; order == 2 || m[4] == 0 {
		if det <= 1e-12*m[0]*m[2] {
			return parabola{a: v[0] / m[0]}
		}
		return parabola{a: (v[0]*m[2] - v[1]*m[1]) / det, b: (v[1]*m[0] - v[0]*m[1]) / det}
	}
	det3 := func(a, b, c, d, e, f, g, h, i float64) float64 { return a*(e*i-f*h) - b*(d*i-f*g) + c*(d*h-e*g) }
	det := det3(m[0], m[1], m[2], m[1], m[2], m[3], m[2], m[3], m[4])
	if math.Abs(det) <= 1e-14*m[0]*m[2]*m[4] {
		return fitWeighted(t, s, w, 2)
	}
	return parabola{
		a: det3(v[0], m[1], m[2], v[1], m[2], m[3], v[2], m[3], m[4]) / det,
		b: det3(m[0], v[0], m[2], m[1], v[1], m[3], m[2], v[2], m[4]) / det,
		c: det3(m[0], m[1], v[0], m[1], m[2], v[1], m[2], m[3], v[2]) / det,
	}
}

// median does not change v.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	c := slices.Clone(v)
	slices.Sort(c)
	return (c[len(c)/2] + c[(len(c)-1)/2]) / 2
}

// extreme is a turning point of a sequence: a maximum where top is set, else a minimum.
type extreme struct {
	i   int
	top bool
}

// turningPoints lists the alternating extremes of the open sequence v whose swings are at least swing.
func turningPoints(v []float64, swing float64) []extreme {
	var out []extreme
	if len(v) == 0 {
		return nil
	}
	lo, hi, up := 0, 0, 0 // up: +1 when rising from a confirmed minimum, -1 when falling, 0 undecided
	for i := range v {
		if v[i] > v[hi] {
			hi = i
		}
		if v[i] < v[lo] {
			lo = i
		}
		switch {
		case up >= 0 && v[hi]-v[i] >= swing:
			out = append(out, extreme{hi, true})
			up, lo = -1, i
		case up <= 0 && v[i]-v[lo] >= swing:
			out = append(out, extreme{lo, false})
			up, hi = 1, i
		}
		if up > 0 {
			lo = i
		}
		if up < 0 {
			hi = i
		}
	}
	return out
}
