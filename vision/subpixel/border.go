package subpixel

import "math"

// Border is the place in a profile where one smooth stretch ends and another begins.
type Border struct {
	// Pos is in samples from the profile's first one, U its standard uncertainty from the fit's residuals alone.
	Pos, U float64
	// Gain is the share of the stretch's unrest that the border explains: 1 - SSE(two lines)/SSE(one line), 0..1.
	Gain float64
	// Step is the difference of the two lines at the border, that of the channel with the largest one.
	Step float64
}

// Reach is how many samples before and after a border the two lines are fitted to. A short reach on one side keeps
// that line to what lies next to the border, where the stretch beyond is not straight for long.
type Reach struct{ Before, After float64 }

// Both is the same reach on both sides.
func Both(reach float64) Reach { return Reach{reach, reach} }

// FindBorder looks between from and to (samples) for the border that best parts the profile, in all channels at once,
// into two straight lines blurred by sigma (samples, > 0), each fitted over its reach:
//
//	v(i) = (1-w)·(a + b·i) + w·(c + d·i),  w = Phi((i - Pos)/sigma)
//
// a, b, c, d follow by linear least squares for each trial position (two-phase regression, Hinkley 1969), so a step, a kink and a
// step on a slope are one case. Unlike a gradient's maximum it does not move towards the steeper side. ok is false where
// no trial position has reach samples on both sides or nothing changes there.
func FindBorder(channels [][]float64, from, to float64, reach Reach, sigma float64) (b Border, ok bool) {
	n := len(channels[0])
	from, to = math.Max(from, reach.Before), math.Min(to, float64(n-1)-reach.After)
	if to < from {
		return Border{}, false
	}
	best := 0.0
	for p := from; p <= to; p += 0.5 {
		if g := gainAt(channels, p, reach, sigma); g.sse0-g.sse > best {
			best, b.Pos = g.sse0-g.sse, p
		}
	}
	if best <= 0 {
		return Border{}, false
	}
	return SettleBorder(channels, b.Pos, reach, sigma), true
}

// SettleBorder finds the border within 2 samples of at, comparing trials over the same samples: at is known to be
// near, so the window need not move. at must have its reach on both sides, or what is missing there is left out.
func SettleBorder(channels [][]float64, at float64, reach Reach, sigma float64) Border {
	window := func(p float64) fitGain { return gainIn(channels, at-reach.Before, at+reach.After, p, sigma) }
	pos, least := at, math.Inf(1)
	for p := at - 2; p <= at+2; p += 0.1 {
		if g := window(p); g.sse < least {
			pos, least = p, g.sse
		}
	}
	const h = 0.25
	l, m, r := window(pos-h), window(pos), window(pos+h)
	b := Border{Pos: pos, Step: m.step, Gain: 1 - m.sse/math.Max(m.sse0, 1e-12)}
	curve := (l.sse - 2*m.sse + r.sse) / (h * h)
	if curve > 1e-12 {
		b.Pos += math.Max(-h, math.Min(h, (l.sse-r.sse)/(2*h)/curve))
		noise := m.sse / math.Max(1, float64(m.samples-4*len(channels)-1))
		b.U = math.Sqrt(2 * noise / curve)
	} else {
		b.U = math.Max(reach.Before, reach.After)
	}
	return b
}

type fitGain struct {
	sse0, sse, step float64
	samples         int
}

func gainAt(channels [][]float64, p float64, reach Reach, sigma float64) fitGain {
	return gainIn(channels, p-reach.Before, p+reach.After, p, sigma)
}

// gainIn fits one line and two blurred lines that meet at p to the samples of lo..hi.
func gainIn(channels [][]float64, lo, hi, p, sigma float64) (g fitGain) {
	i0, i1 := max(0, int(math.Ceil(lo))), min(len(channels[0])-1, int(math.Floor(hi)))
	var m [4][4]float64
	var room [64][4]float64 // most profiles are shorter
	basis := room[:0]
	for i := i0; i <= i1; i++ {
		t := float64(i) - p
		w := 0.5 * math.Erfc(-t/(sigma*math.Sqrt2))
		f := [4]float64{1 - w, (1 - w) * t, w, w * t}
		basis = append(basis, f)
		for a := range 4 {
			for b := a; b < 4; b++ {
				m[a][b] += f[a] * f[b]
			}
		}
	}
	for a := range 4 {
		for b := range a {
			m[a][b] = m[b][a]
		}
	}
	inv, ok := invert4(m)
	if !ok {
		return fitGain{}
	}
	for _, v := range channels {
		sse0, sse, step := residual(v[i0:i1+1], basis, inv, float64(i0)-p)
		g.sse0, g.sse, g.samples = g.sse0+sse0, g.sse+sse, g.samples+i1-i0+1
		if math.Abs(step) > math.Abs(g.step) {
			g.step = step
		}
	}
	return g
}

// residual gives the sums of squares about one straight line and about the two of the basis, and the step.
func residual(v []float64, basis [][4]float64, inv [4][4]float64, t0 float64) (sse0, sse, step float64) {
	var rhs [4]float64
	var n, st, stt, sv, stv, svv float64
	for i, x := range v {
		t := t0 + float64(i)
		n, st, stt, sv, stv, svv = n+1, st+t, stt+t*t, sv+x, stv+t*x, svv+x*x
		f := &basis[i]
		rhs[0], rhs[1], rhs[2], rhs[3] = rhs[0]+f[0]*x, rhs[1]+f[1]*x, rhs[2]+f[2]*x, rhs[3]+f[3]*x
	}
	var c [4]float64
	for a := range 4 {
		for b := range 4 {
			c[a] += inv[a][b] * rhs[b]
		}
	}
	for i, x := range v {
		f := &basis[i]
		r := x - c[0]*f[0] - c[1]*f[1] - c[2]*f[2] - c[3]*f[3]
		sse += r * r
	}
	d := stt - st*st/n
	sse0 = svv - sv*sv/n - (stv-st*sv/n)*(stv-st*sv/n)/d
	return sse0, sse, c[2] - c[0]
}

// BorderStrength tells how well a border at pos parts the profile: the mean square, over the samples within reach and all channels,
// that two blurred lines explain beyond one, and the step from before to after (of the channel with the largest one).
// It is 0 where reach samples are not there on both sides.
func BorderStrength(channels [][]float64, pos float64, reach Reach, sigma float64) (strength, step float64) {
	if pos < reach.Before || pos > float64(len(channels[0])-1)-reach.After {
		return 0, 0
	}
	g := gainAt(channels, pos, reach, sigma)
	if g.samples == 0 {
		return 0, 0
	}
	return (g.sse0 - g.sse) / float64(g.samples), g.step
}
