package strands

import (
	"math"
	"math/rand/v2"
	"testing"

	"crimprule/vision/section/raster"
)

// scene is discs of bright metal in a dark cavity, drawn with 5 x 5 samples a pixel.
type scene struct {
	w, h    int
	discs   [][3]float64
	inside  func(x, y float64) bool
	metal   float64
	void    float64
	noise   float64
	blur    float64
	channel int
}

func (s scene) draw() Input {
	in := Input{Cavity: raster.NewMask(s.w, s.h), MMPerPX: 0.003, BlurPX: math.Max(s.blur, 0.3)}
	p := raster.NewPlane(s.w, s.h)
	for y := range s.h {
		for x := range s.w {
			sum := 0.
			for k := range 25 {
				sx, sy := float64(x)+(float64(k%5)-2)/5, float64(y)+(float64(k/5)-2)/5
				v := 0.9
				if s.inside(sx, sy) {
					v = s.void
					for _, d := range s.discs {
						if math.Hypot(sx-d[0], sy-d[1]) <= d[2] {
							v = s.metal
							break
						}
					}
				}
				sum += v / 25
			}
			p.Pix[y*s.w+x] = float32(sum)
			in.Cavity.Pix[y*s.w+x] = s.inside(float64(x), float64(y))
		}
	}
	if s.blur > 0 {
		p.Pix = gauss(p.Pix, s.w, s.h, s.blur)
	}
	r := rand.New(rand.NewPCG(1, 2))
	for i := range p.Pix {
		p.Pix[i] += float32(s.noise * r.NormFloat64())
	}
	for range max(s.channel, 1) {
		in.Tone = append(in.Tone, p)
	}
	return in
}

// squarePack has n x n discs of radius r that touch.
func squarePack(n int, r float64) scene {
	const edge = 20
	s := scene{w: int(2*r*float64(n)) + 2*edge, h: int(2*r*float64(n)) + 2*edge, metal: 0.6, void: 0.1, blur: 0.8}
	for i := range n * n {
		s.discs = append(s.discs, [3]float64{edge + r + 2*r*float64(i%n), edge + r + 2*r*float64(i/n), r})
	}
	far := edge + 2*r*float64(n)
	s.inside = func(x, y float64) bool { return x >= edge && y >= edge && x < far && y < far }
	return s
}

func TestPackings(t *testing.T) {
	// 1 - pi/4: the void of square packing (plane geometry).
	want := 1 - math.Pi/4
	for _, r := range []float64{16, 22, 33} {
		s := squarePack(6, r)
		found, err := Find(s.draw())
		if err != nil {
			t.Fatal(err)
		}
		area := math.Pow(12*r, 2)
		t.Logf("r %.0f: %d strands, u %.0f, void %.4f u %.4f", r, len(found.Strands), found.UCount, found.VoidAreaPX/area, found.UVoidAreaPX/area)
		if len(found.Strands) != 36 {
			t.Errorf("r %.0f: %d strands, not 36", r, len(found.Strands))
		}
		if d := found.VoidAreaPX/area - want; math.Abs(d) > found.UVoidAreaPX/area {
			t.Errorf("r %.0f: void off by %.4f, u %.4f", r, d, found.UVoidAreaPX/area)
		}
	}
}

func TestDumpPack(t *testing.T) {
	s := squarePack(6, 22)
	dump(t, "/tmp/w/strands/pack.png", s.draw(), sidecar{}, 0, 0)
}
