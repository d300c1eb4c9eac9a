package drawn

import (
	"image"
	"math"
)

// film is a linear RGB picture.
type film struct {
	w, h int
	pix  []float32
}

func newFilm(w, h int) *film { return &film{w, h, make([]float32, 3*w*h)} }

func (f *film) set(x, y int, c vec) {
	i := 3 * (y*f.w + x)
	f.pix[i], f.pix[i+1], f.pix[i+2] = float32(c.X), float32(c.Y), float32(c.Z)
}

// develop blurs, adds noise, sharpens and turns linear light into sRGB, in the order of a camera.
func (f *film) develop(s Scene) *image.NRGBA {
	k := s.Sensor
	if k.DefocusPX > 0 {
		f.blur(bell(k.DefocusPX), 1, 0)
		f.blur(bell(k.DefocusPX), 0, 1)
	}
	if k.MotionPX > 0 {
		f.smear(k.MotionPX, radians(k.MotionDeg))
	}
	f.expose(k, uint64(s.Seed)+991+uint64(k.Shot)<<32)
	if k.Sharpen > 0 {
		soft := newFilm(f.w, f.h)
		copy(soft.pix, f.pix)
		soft.blur(bell(1.1), 1, 0)
		soft.blur(bell(1.1), 0, 1)
		for i, v := range soft.pix {
			f.pix[i] += float32(k.Sharpen) * (f.pix[i] - v)
		}
	}
	out := image.NewNRGBA(image.Rect(0, 0, f.w, f.h))
	for i := range f.w * f.h {
		for c := range 3 {
			out.Pix[4*i+c] = uint8(math.Round(255 * clamp(float64(f.pix[3*i+c]), 0, 1)))
		}
		out.Pix[4*i+3] = 255
	}
	return out
}

// expose darkens the corners, adds shot and read noise and applies the tone curve of sRGB with a soft shoulder.
func (f *film) expose(k Sensor, seed uint64) {
	cx, cy := float64(f.w-1)/2, float64(f.h-1)/2
	rows(f.h, func(y int) {
		for x := range f.w {
			dx, dy := (float64(x)-cx)/cx, (float64(y)-cy)/cx
			fall := 1 - k.Vignette*(dx*dx+dy*dy)/1.56
			for c := range 3 {
				i := 3*(y*f.w+x) + c
				v := float64(f.pix[i]) * fall
				if k.Noise > 0 {
					n := hash(seed, int64(i), 0) + hash(seed, int64(i), 1) + hash(seed, int64(i), 2) - 1.5
					v += 2 * n * k.Noise * math.Sqrt(0.18*max(v, 0)+0.003)
				}
				f.pix[i] = float32(tone(v))
			}
		}
	})
}

// toneTable is the tone curve at steps of 1/2048 over 0..2: a power a value would take longer than all noise together.
var toneTable = func() (t [4098]float64) {
	for i := range t {
		t[i] = toneAt(float64(i) / 2048)
	}
	return t
}()

func tone(v float64) float64 {
	if v < 0.02 {
		return toneAt(v) // the curve bends too quickly here for the table
	}
	v = min(v, 2) * 2048
	i := int(v)
	return toneTable[i] + (toneTable[i+1]-toneTable[i])*(v-float64(i))
}

func toneAt(v float64) float64 {
	if v > 0.75 {
		v = 0.75 + 0.25*(1-math.Exp(-(v-0.75)/0.25))
	}
	if v <= 0.0031308 {
		return 12.92 * max(v, 0)
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// bell is a normalised Gaussian kernel.
func bell(sigma float64) []float32 {
	n := int(math.Ceil(3 * sigma))
	k, sum := make([]float32, 2*n+1), 0.0
	for i := range k {
		u := float64(i-n) / sigma
		k[i] = float32(math.Exp(-u * u / 2))
		sum += float64(k[i])
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	return k
}

// blur convolves along the direction (dx, dy), one of them 1 and the other 0.
func (f *film) blur(k []float32, dx, dy int) {
	n := len(k) / 2
	out := make([]float32, len(f.pix))
	rows(f.h, func(y int) {
		for x := range f.w {
			var sum [3]float32
			for i, weight := range k {
				u, v := min(max(x+(i-n)*dx, 0), f.w-1), min(max(y+(i-n)*dy, 0), f.h-1)
				at := 3 * (v*f.w + u)
				sum[0] += weight * f.pix[at]
				sum[1] += weight * f.pix[at+1]
				sum[2] += weight * f.pix[at+2]
			}
			copy(out[3*(y*f.w+x):], sum[:])
		}
	})
	f.pix = out
}

// smear averages along a short straight line about each pixel, as a hand that moves does.
func (f *film) smear(length, angle float64) {
	const steps = 7
	out := make([]float32, len(f.pix))
	rows(f.h, func(y int) {
		for x := range f.w {
			for i := range steps {
				t := (float64(i)/(steps-1) - 0.5) * length
				u, v := float64(x)+t*math.Cos(angle), float64(y)+t*math.Sin(angle)
				f.addBilinear(out[3*(y*f.w+x):], u, v, 1.0/steps)
			}
		}
	})
	f.pix = out
}

func (f *film) addBilinear(to []float32, u, v, weight float64) {
	u, v = clamp(u, 0, float64(f.w-1)), clamp(v, 0, float64(f.h-1))
	x, y := min(int(u), f.w-2), min(int(v), f.h-2)
	a, b := float32(u-float64(x)), float32(v-float64(y))
	at := 3 * (y*f.w + x)
	for c := range 3 {
		p := f.pix[at+c:]
		below := f.pix[at+c+3*f.w:]
		top, low := p[0]*(1-a)+p[3]*a, below[0]*(1-a)+below[3]*a
		to[c] += float32(weight) * (top*(1-b) + low*b)
	}
}
