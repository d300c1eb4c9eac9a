package strands

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"crimprule/vision/section/raster"
)

// scene is discs of metal in a dark cavity of a bright sleeve, drawn with 5 x 5 samples a pixel.
type scene struct {
	w, h   int
	discs  [][3]float64
	inside func(x, y float64) bool
	blur   float64
}

func (s scene) draw(noise float64) Input {
	in := Input{Cavity: raster.NewMask(s.w, s.h), MMPerPX: 0.003, BlurPX: s.blur}
	p := raster.NewPlane(s.w, s.h)
	for y := range s.h {
		for x := range s.w {
			sum := 0.
			for k := range 25 {
				sum += s.tone(float64(x)+(float64(k%5)-2)/5, float64(y)+(float64(k/5)-2)/5) / 25
			}
			p.Pix[y*s.w+x] = float32(sum)
			in.Cavity.Pix[y*s.w+x] = s.inside(float64(x), float64(y))
		}
	}
	p.Pix = gauss(p.Pix, s.w, s.h, s.blur)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range p.Pix {
		p.Pix[i] += float32(noise * r.NormFloat64())
	}
	in.Tone = []raster.Plane{p}
	return in
}

func (s scene) tone(x, y float64) float64 {
	if !s.inside(x, y) {
		return 0.9
	}
	for _, d := range s.discs {
		if math.Hypot(x-d[0], y-d[1]) <= d[2] {
			return 0.6
		}
	}
	return 0.1
}

const edge = 20

// packed is rows x columns touching discs in the tightest box, every second row shifted by a share of a diameter, each
// rise diameters from the one before. The second result is the box's void ratio, by geometry.
func packed(rows, columns int, r, shift, rise float64) (scene, float64) {
	s := scene{blur: 0.8}
	for j := range rows {
		for i := range columns {
			s.discs = append(s.discs, [3]float64{edge + r + 2*r*(float64(i)+shift*float64(j%2)), edge + r + 2*r*rise*float64(j), r})
		}
	}
	wide, high := 2*r*(float64(columns)+shift), 2*r*(1+rise*float64(rows-1))
	s.w, s.h = int(wide)+2*edge, int(high)+2*edge
	s.inside = func(x, y float64) bool { return x >= edge && y >= edge && x < edge+wide && y < edge+high }
	return s, 1 - float64(rows*columns)*math.Pi*r*r/(wide*high)
}

// TestPackings holds against plane geometry: equal circles packed square leave 1 - pi/4 = 21.460 % empty; packed
// hexagonally 1 - pi/(2 sqrt 3) = 9.310 % in the middle, and at the straight walls of a box what the walls cut off more.
func TestPackings(t *testing.T) {
	for _, r := range []float64{16, 22, 33} {
		for _, c := range []struct {
			name        string
			rows, n     int
			shift, rise float64
		}{{"square", 6, 6, 0, 1}, {"hexagonal", 7, 7, 0.5, math.Sqrt(3) / 2}} {
			s, want := packed(c.rows, c.n, r, c.shift, c.rise)
			if c.name == "square" && math.Abs(want-(1-math.Pi/4)) > 1e-9 {
				t.Fatalf("the box leaves %.5f", want)
			}
			in := s.draw(0.004)
			found, err := Find(in)
			if err != nil {
				t.Fatal(err)
			}
			area := 0.
			for _, v := range in.Cavity.Pix {
				if v {
					area++
				}
			}
			got, u := found.VoidAreaPX/area, found.UVoidAreaPX/area
			t.Logf("%s, r %.0f: %d strands, u %.0f, void %.4f u %.4f, not %.4f", c.name, r, len(found.Strands), found.UCount, got, u, want)
			if len(found.Strands) != c.rows*c.n {
				t.Errorf("%s, r %.0f: %d strands, not %d", c.name, r, len(found.Strands), c.rows*c.n)
			}
			if math.Abs(got-want) > u || u > 0.25*want+0.01 {
				t.Errorf("%s, r %.0f: void %.4f, u %.4f, not %.4f", c.name, r, got, u, want)
			}
		}
	}
}

// TestHexagonalInterior holds against 1 - pi/(2 sqrt 3) = 9.310 %, the void of hexagonal packing without walls.
func TestHexagonalInterior(t *testing.T) {
	const r, n = 22., 9
	s := scene{w: 2*edge + int(2*r*n), h: 2*edge + int(2*r*n*math.Sqrt(3)/2), blur: 0.8}
	for j := -1; j <= n; j++ {
		for i := -1; i <= n; i++ {
			s.discs = append(s.discs, [3]float64{edge + 2*r*(float64(i)+0.5*float64(j&1)), edge + r*math.Sqrt(3)*float64(j), r})
		}
	}
	// Whole periods both ways: the void is exactly 1 - pi/(2 sqrt 3), the discs at the walls are cut.
	s.inside = func(x, y float64) bool {
		return x >= edge && y >= edge && x < edge+2*r*(n-1) && y < edge+r*math.Sqrt(3)*(n-1)
	}
	in := s.draw(0.004)
	found, err := Find(in)
	if err != nil {
		t.Fatal(err)
	}
	area := 0.
	for _, v := range in.Cavity.Pix {
		if v {
			area++
		}
	}
	want := 1 - math.Pi/(2*math.Sqrt(3))
	got, u := found.VoidAreaPX/area, found.UVoidAreaPX/area
	t.Logf("void %.4f, u %.4f, not %.5f", got, u, want)
	if math.Abs(got-want) > u {
		t.Errorf("void %.4f, u %.4f, not %.5f", got, u, want)
	}
}

// TestTurned turns, mirrors, brightens, scales and makes noisy: the count stays, the void ratio stays within u.
func TestTurned(t *testing.T) {
	s, want := packed(5, 6, 24, 0.5, math.Sqrt(3)/2)
	plain := s.draw(0.004)
	for name, in := range map[string]Input{
		"plain": plain, "turned": turned(plain), "mirrored": mirrored(plain), "dim": dimmed(plain, 0.5), "bright": dimmed(plain, 1.1),
		"noisy": s.draw(0.02), "small": scaled(0.7), "large": scaled(1.5), "colour": coloured(plain),
	} {
		found, err := Find(in)
		if err != nil {
			t.Fatal(name, err)
		}
		area := 0.
		for _, v := range in.Cavity.Pix {
			if v {
				area++
			}
		}
		got, u := found.VoidAreaPX/area, found.UVoidAreaPX/area
		if len(found.Strands) != 30 || math.Abs(got-want) > u {
			t.Errorf("%s: %d strands of 30, void %.4f u %.4f, not %.4f", name, len(found.Strands), got, u, want)
		}
		for _, q := range found.Strands {
			if q.Neighbours > 6 && name != "noisy" || q.Roundness < 0.5 || q.Roundness > 1.05 || len(q.Outline) < 20 {
				t.Errorf("%s: strand at %.0f, %.0f: %d neighbours, roundness %.2f, %d points", name, q.X, q.Y, q.Neighbours, q.Roundness, len(q.Outline))
			}
		}
	}
}

func scaled(k float64) Input {
	s, _ := packed(5, 6, 24*k, 0.5, math.Sqrt(3)/2)
	return s.draw(0.004)
}

func turned(in Input) Input {
	out := Input{MMPerPX: in.MMPerPX, BlurPX: in.BlurPX, Cavity: raster.NewMask(in.Cavity.H, in.Cavity.W)}
	p := raster.NewPlane(in.Cavity.H, in.Cavity.W)
	for y := range in.Cavity.H {
		for x := range in.Cavity.W {
			k := x*p.W + p.W - 1 - y
			p.Pix[k] = in.Tone[0].Pix[y*in.Cavity.W+x]
			out.Cavity.Pix[k] = in.Cavity.Pix[y*in.Cavity.W+x]
		}
	}
	out.Tone = []raster.Plane{p}
	return out
}

func mirrored(in Input) Input {
	out := Input{MMPerPX: in.MMPerPX, BlurPX: in.BlurPX, Cavity: raster.NewMask(in.Cavity.W, in.Cavity.H)}
	p := raster.NewPlane(in.Cavity.W, in.Cavity.H)
	for y := range p.H {
		for x := range p.W {
			p.Pix[y*p.W+p.W-1-x] = in.Tone[0].Pix[y*p.W+x]
			out.Cavity.Pix[y*p.W+p.W-1-x] = in.Cavity.Pix[y*p.W+x]
		}
	}
	out.Tone = []raster.Plane{p}
	return out
}

func dimmed(in Input, k float32) Input {
	out := in
	p := raster.NewPlane(in.Cavity.W, in.Cavity.H)
	for i, v := range in.Tone[0].Pix {
		p.Pix[i] = k * v
	}
	out.Tone = []raster.Plane{p}
	return out
}

func coloured(in Input) Input {
	out := in
	out.Tone = nil
	for _, k := range []float32{0.5, 0.7, 1} { // copper: blue, green, red
		out.Tone = append(out.Tone, dimmed(in, k).Tone[0])
	}
	return out
}

// TestOdd is for what is hardly a section: nothing panics, nothing is invented.
func TestOdd(t *testing.T) {
	flat := func(w, h int, tone float32, in func(x, y int) bool) Input {
		p, m := raster.NewPlane(w, h), raster.NewMask(w, h)
		for i := range p.Pix {
			p.Pix[i] = 0.9
			if m.Pix[i] = in(i%w, i/w); m.Pix[i] {
				p.Pix[i] = tone
			}
		}
		return Input{Tone: []raster.Plane{p}, Cavity: m, MMPerPX: 0.003, BlurPX: 1}
	}
	box := func(x, y int) bool { return x >= 20 && x < 100 && y >= 20 && y < 100 }
	for _, c := range []struct {
		name   string
		in     Input
		n      int
		void   float64 // share
		noMask bool
	}{
		{"empty mask", flat(50, 50, 0.6, func(int, int) bool { return false }), 0, 0, true},
		{"no picture", Input{Tone: []raster.Plane{{}}}, 0, 0, true},
		{"a line", flat(120, 50, 0.6, func(_, y int) bool { return y == 20 }), -1, 0, false},
		{"a point", flat(20, 20, 0.6, func(x, y int) bool { return x == 3 && y == 4 }), -1, 0, false},
		{"all of the picture", flat(60, 60, 0.6, func(int, int) bool { return true }), -1, 0, false},
		{"one strand", flat(120, 120, 0.6, box), 1, 0, false},
		{"nothing but void", flat(120, 120, 0.1, box), 0, 1, false},
	} {
		found, err := Find(c.in)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		area := 0.
		for _, v := range c.in.Cavity.Pix {
			if v {
				area++
			}
		}
		if c.n >= 0 && len(found.Strands) != c.n {
			t.Errorf("%s: %d strands, not %d", c.name, len(found.Strands), c.n)
		}
		if !c.noMask && c.n >= 0 && math.Abs(found.VoidAreaPX/area-c.void) > found.UVoidAreaPX/area+0.005 {
			t.Errorf("%s: void %.3f u %.3f, not %.3f", c.name, found.VoidAreaPX/area, found.UVoidAreaPX/area, c.void)
		}
	}
	if _, err := Find(Input{}); err == nil {
		t.Error("no planes, and no error")
	}
	two := flat(10, 10, 0.5, box)
	two.Tone[0] = raster.NewPlane(9, 10)
	if _, err := Find(two); err == nil {
		t.Error("plane and mask differ in size, and no error")
	}
}

// TestOdds: three doubts of 0.3 each leave a sum of nought with 0.343, within one of nought with 0.784, within two with
// 0.973 (binomial distribution).
func TestOdds(t *testing.T) {
	o := newOdds()
	for range 3 {
		o.add(0.3, 1)
	}
	for share, want := range map[float64]float64{0.34: 0, 0.35: 1, 0.78: 1, 0.79: 2, 0.97: 2, 0.98: 3} {
		if got := o.within(share); got != want {
			t.Errorf("%.2f: within %.0f, not %.0f", share, got, want)
		}
	}
}

func ExampleFind() {
	s, _ := packed(3, 4, 22, 0.5, math.Sqrt(3)/2)
	found, err := Find(s.draw(0.004))
	fmt.Println(len(found.Strands), found.UCount, err)
	// Output: 12 0 <nil>
}
