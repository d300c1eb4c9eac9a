package section

import (
	"math"
	"math/rand/v2"
)

// expose turns the surface into what the camera stores, still as display values: light, blur, noise, sharpening.
func (f *film) expose(o Optics, seed uint64) {
	f.light(o)
	f.blur(o.BlurPX)
	if o.BlurSide > 1 {
		f.blurSide(o)
	}
	if o.Flare > 0 {
		f.flare(o.Flare)
	}
	f.tone(o, seed)
	if o.Sharpen > 0 {
		soft := &film{w: f.w, h: f.h, pix: append([]float32(nil), f.pix...)}
		soft.blur(1.2)
		for i, v := range soft.pix {
			f.pix[i] += float32(o.Sharpen) * (f.pix[i] - v)
		}
	}
}

// light is uneven and falls off towards the corners.
func (f *film) light(o Optics) {
	balance := o.Balance
	if balance == ([3]float64{}) {
		balance = [3]float64{1, 1, 1}
	}
	rows(f.h, 16, func(from, to int) {
		for y := from; y < to; y++ {
			v := (float64(y) - float64(f.h)/2) / float64(f.w)
			for x := range f.w {
				u := float64(x)/float64(f.w) - 0.5
				r := sq(u-o.Middle[0]) + sq(v-o.Middle[1])
				k := o.Exposure * (1 + o.Tilt[0]*u + o.Tilt[1]*v) * (1 - o.Vignette*r*2.5)
				for c := range 3 {
					f.pix[3*(y*f.w+x)+c] *= float32(k * balance[c])
				}
			}
		}
	})
}

// blur by a bell of the given standard deviation; the borders repeat.
func (f *film) blur(sigma float64) {
	if sigma < 0.05 {
		return
	}
	r := int(math.Ceil(3.5 * sigma))
	k := make([]float32, 2*r+1)
	sum := float32(0)
	for i := range k {
		k[i] = float32(math.Exp(-sq(float64(i-r)) / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	w, h := f.w, f.h
	half := make([]float32, len(f.pix))
	rows(h, 16, func(from, to int) {
		line := make([]float32, 3*(w+2*r))
		for y := from; y < to; y++ {
			src := f.pix[3*y*w : 3*(y+1)*w]
			for x := range w + 2*r {
				copy(line[3*x:3*x+3], src[3*min(w-1, max(0, x-r)):])
			}
			for i := range 3 * w {
				s := float32(0)
				for j, v := range k {
					s += v * line[i+3*j]
				}
				half[3*y*w+i] = s
			}
		}
	})
	rows(h, 16, func(from, to int) {
		for y := from; y < to; y++ {
			dst := f.pix[3*y*w : 3*(y+1)*w]
			clear(dst)
			for j, v := range k {
				src := half[3*min(h-1, max(0, y+j-r))*w:]
				for i := range dst {
					dst[i] += v * src[i]
				}
			}
		}
	})
}

// blurSide blurs more towards one side, where the cut lies out of the focal plane.
func (f *film) blurSide(o Optics) {
	soft := &film{w: f.w, h: f.h, pix: append([]float32(nil), f.pix...)}
	soft.blur(o.BlurPX * math.Sqrt(o.BlurSide*o.BlurSide-1))
	sin, cos := math.Sincos(radians(o.SideDeg))
	for i := range f.w * f.h {
		u, v := float64(i%f.w)/float64(f.w)-0.5, (float64(i/f.w)-float64(f.h)/2)/float64(f.w)
		t := float32(smooth(-0.1, 0.45, u*cos+v*sin))
		for c := range 3 {
			f.pix[3*i+c] += t * (soft.pix[3*i+c] - f.pix[3*i+c])
		}
	}
}

// flare spreads a share of the light over the neighbourhood: the picture reduced, blurred and laid over itself.
func (f *film) flare(share float64) {
	const n = 8
	s := &film{w: (f.w + n - 1) / n, h: (f.h + n - 1) / n}
	s.pix = make([]float32, 3*s.w*s.h)
	count := make([]float32, s.w*s.h)
	for y := range f.h {
		for x := range f.w {
			o := y/n*s.w + x/n
			count[o]++
			for c := range 3 {
				s.pix[3*o+c] += f.pix[3*(y*f.w+x)+c]
			}
		}
	}
	for o, v := range count {
		for c := range 3 {
			s.pix[3*o+c] /= v
		}
	}
	s.blur(6)
	rows(f.h, 16, func(from, to int) {
		for y := from; y < to; y++ {
			v := clamp((float64(y)+0.5)/n-0.5, 0, float64(s.h-1))
			y0 := min(int(v), max(0, s.h-2))
			ty := float32(v - float64(y0))
			for x := range f.w {
				u := clamp((float64(x)+0.5)/n-0.5, 0, float64(s.w-1))
				x0 := min(int(u), max(0, s.w-2))
				tx := float32(u - float64(x0))
				for c := range 3 {
					at := func(i, j int) float32 { return s.pix[3*(min(j, s.h-1)*s.w+min(i, s.w-1))+c] }
					top := at(x0, y0) + tx*(at(x0+1, y0)-at(x0, y0))
					low := at(x0, y0+1) + tx*(at(x0+1, y0+1)-at(x0, y0+1))
					p := &f.pix[3*(y*f.w+x)+c]
					*p += float32(share) * (top + ty*(low-top) - *p)
				}
			}
		}
	})
}

// tone applies the tone curve and adds noise.
func (f *film) tone(o Optics, seed uint64) {
	rows(f.h, 1, func(y, _ int) {
		d := rand.New(rand.NewPCG(seed, uint64(y)+1))
		for i := 3 * y * f.w; i < 3*(y+1)*f.w; i++ {
			v := max(0, float64(f.pix[i]))
			v += math.Sqrt(sq(o.ReadNoise)+sq(o.ShotNoise)*v) * d.NormFloat64()
			if o.Gamma > 0 && o.Gamma != 1 {
				v = math.Pow(max(0, v), o.Gamma)
			}
			f.pix[i] = float32(v)
		}
	})
}

// grey makes all channels the same.
func (f *film) grey() {
	for i := 0; i < len(f.pix); i += 3 {
		v := 0.3*f.pix[i] + 0.59*f.pix[i+1] + 0.11*f.pix[i+2]
		f.pix[i], f.pix[i+1], f.pix[i+2] = v, v, v
	}
}
