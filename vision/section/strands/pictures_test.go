package strands

import (
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"syscall"
	"testing"
	"time"

	_ "golang.org/x/image/tiff"

	"crimprule/vision/section/raster"
)

type sidecar struct {
	Image  string `json:"image"`
	Expect any    `json:"expect_retake"`
	Truth  struct {
		Strands int     `json:"strand_count"`
		Void    float64 `json:"void_ratio"`
	} `json:"truth"`
	Conditions struct {
		Blur float64 `json:"blur_px"`
	} `json:"conditions"`
	Aid struct {
		MMPerPX  float64         `json:"mm_per_px"`
		Cavity   json.RawMessage `json:"cavity"`
		Outlines [][][2]float64  `json:"strand_outlines"`
	} `json:"aid"`
}

// TestPictures looks at drawn pictures in a folder named by CRIMPRULE_SECTIONS, each with its truth beside it.
func TestPictures(t *testing.T) {
	dir := os.Getenv("CRIMPRULE_SECTIONS")
	if dir == "" {
		t.Skip("CRIMPRULE_SECTIONS names no folder of pictures")
	}
	names, _ := filepath.Glob(filepath.Join(dir, "*.json"))
	sort.Strings(names)
	grow := 0.
	_, _ = fmt.Sscan(os.Getenv("GROW"), &grow)
	wob := 0.
	_, _ = fmt.Sscan(os.Getenv("WOBBLE"), &wob)
	var sq, sum float64
	n, exact, cover, covV := 0, 0, 0, 0
	for _, name := range names {
		if only := os.Getenv("ONLY"); only != "" && !strings.Contains(name, only) {
			continue
		}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		var s sidecar
		if err := json.Unmarshal(data, &s); err != nil {
			t.Fatal(name, err)
		}
		if s.Expect != nil || s.Truth.Strands == 0 {
			continue
		}
		in, x0, y0 := load(t, filepath.Join(dir, s.Image), s, grow, wob)
		start := cpu()
		found, err := Find(in)
		if err != nil {
			t.Error(name, err)
			continue
		}
		took := cpu() - start
		area := 0.
		for _, v := range in.Cavity.Pix {
			if v {
				area++
			}
		}
		ratio, u := found.VoidAreaPX/area, found.UVoidAreaPX/area
		d := ratio - s.Truth.Void
		flag := ""
		if len(found.Strands) != s.Truth.Strands {
			flag += " COUNT"
		} else {
			exact++
		}
		if math.Abs(float64(len(found.Strands)-s.Truth.Strands)) <= found.UCount {
			cover++
		}
		if math.Abs(d) <= u {
			covV++
		} else {
			flag += " VOID"
		}
		n++
		sq += d * d
		sum += d
		fmt.Printf("%s count %3d found %3d u %.0f  void %.4f found %.4f u %.4f err %+.4f  %4d ms%s\n", strings.TrimSuffix(filepath.Base(name), ".json"), s.Truth.Strands, len(found.Strands), found.UCount, s.Truth.Void, ratio, u, d, took.Milliseconds(), flag)
		if os.Getenv("ERRS") != "" && flag != "" {
			fmt.Print(errs(found, s, x0, y0, in))
		}
		if to := os.Getenv("DUMP"); to != "" {
			dump(t, filepath.Join(to, "d"+strings.TrimSuffix(filepath.Base(name), ".json")+".png"), in, s, x0, y0)
		}
	}
	fmt.Printf("n %d exact %d covered %d; void rms %.4f bias %+.4f covered %d\n", n, exact, cover, math.Sqrt(sq/float64(n)), sum/float64(n), covV)
}

// cpu is the processor time spent so far.
func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano())
}

func (s sidecar) cavities() [][][2]float64 {
	var many [][][2]float64
	if json.Unmarshal(s.Aid.Cavity, &many) == nil {
		return many
	}
	var one [][2]float64
	if err := json.Unmarshal(s.Aid.Cavity, &one); err != nil {
		panic(err)
	}
	return [][][2]float64{one}
}

func load(t *testing.T, path string, s sidecar, grow, wob float64) (Input, int, int) {
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = file.Close() }()
	im, _, err := image.Decode(file)
	if err != nil {
		t.Fatal(path, err)
	}
	cav := s.cavities()
	lo, hi := [2]float64{1e9, 1e9}, [2]float64{}
	for _, c := range cav {
		for _, p := range c {
			for k := range 2 {
				lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
			}
		}
	}
	x0, y0 := max(int(lo[0])-20, 0), max(int(lo[1])-20, 0)
	x1, y1 := min(int(hi[0])+21, im.Bounds().Dx()), min(int(hi[1])+21, im.Bounds().Dy())
	w, h := x1-x0, y1-y0
	in := Input{Cavity: raster.NewMask(w, h), MMPerPX: s.Aid.MMPerPX, BlurPX: s.Conditions.Blur}
	grey := false
	switch im.(type) {
	case *image.Gray, *image.Gray16:
		grey = true
	}
	for range map[bool]int{true: 1, false: 3}[grey] {
		in.Tone = append(in.Tone, raster.NewPlane(w, h))
	}
	for y := range h {
		for x := range w {
			r, g, b, _ := im.At(x0+x, y0+y).RGBA()
			v := [3]uint32{b, g, r}
			for c := range in.Tone {
				in.Tone[c].Pix[y*w+x] = float32(v[c]) / 65535
			}
			if len(in.Tone) == 1 {
				in.Tone[0].Pix[y*w+x] = float32(g) / 65535
			}
		}
	}
	for _, c := range cav {
		fill(in.Cavity, c, float64(x0), float64(y0))
	}
	if grow != 0 || wob != 0 {
		regrow(in.Cavity, grow, wob)
	}
	return in, x0, y0
}

// fill marks the pixels whose centres lie in a polygon.
func fill(m raster.Mask, p [][2]float64, x0, y0 float64) {
	for y := range m.H {
		var xs []float64
		yy := float64(y) + y0
		for i, a := range p {
			b := p[(i+1)%len(p)]
			if (a[1] <= yy) != (b[1] <= yy) {
				xs = append(xs, a[0]+(yy-a[1])/(b[1]-a[1])*(b[0]-a[0])-x0)
			}
		}
		sort.Float64s(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			for x := max(int(math.Ceil(xs[i])), 0); x <= int(xs[i+1]) && x < m.W; x++ {
				m.Pix[y*m.W+x] = true
			}
		}
	}
}

// regrow moves the mask's border out by grow px, and by a smooth wobble.
func regrow(m raster.Mask, grow, wob float64) {
	not := make([]bool, len(m.Pix))
	for i, v := range m.Pix {
		not[i] = !v
	}
	in, out := distances(m.Pix, m.W, m.H), distances(not, m.W, m.H)
	for i := range m.Pix {
		if i%m.W < 4 || i%m.W >= m.W-4 || i/m.W < 4 || i/m.W >= m.H-4 {
			continue // the frame, where distances end
		}
		x, y := float64(i%m.W), float64(i/m.W)
		g := grow + wob*math.Sin(x/17+1)*math.Cos(y/13+2)*1.5
		m.Pix[i] = float64(out[i])-float64(in[i])-0.5*sign(float64(out[i])-float64(in[i])) <= g
	}
}

func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}

func dump(t *testing.T, path string, in Input, s sidecar, x0, y0 int) {
	p, f := in.parted()
	if p == nil {
		return
	}
	const k = 2
	open := p.empty().mask
	im := image.NewRGBA(image.Rect(0, 0, f.w*k, f.h*k))
	at := func(x, y int) int32 {
		if x < 0 || y < 0 || x >= f.w || y >= f.h || p.label[y*f.w+x] < 0 {
			return -1
		}
		return p.g.owner[p.label[y*f.w+x]]
	}
	for y := range f.h * k {
		for x := range f.w * k {
			i := y/k*f.w + x/k
			v := [3]float64{float64(f.grey[i]), float64(f.grey[i]), float64(f.grey[i])}
			if len(f.tone) == 3 {
				v = [3]float64{float64(f.tone[2][i]), float64(f.tone[1][i]) * .8, float64(f.tone[0][i]) * .7}
			}
			c := color.RGBA{A: 255}
			c.R, c.G, c.B = uint8(min(255, v[0]*160)), uint8(min(255, v[1]*160)), uint8(min(255, v[2]*160))
			if at(x/k, y/k) != at((x+1)/k, y/k) || at(x/k, y/k) != at(x/k, (y+1)/k) {
				c = color.RGBA{0, 255, 0, 255}
			} else if open[i] {
				c.R = 200
			} else if p.void[i] {
				c.B = 200
			}
			im.SetRGBA(x, y, c)
		}
	}
	for _, o := range s.Aid.Outlines {
		for _, q := range o {
			x, y := ((q[0]-float64(x0)-float64(f.x0)+.5)/float64(f.scale))*k, ((q[1]-float64(y0)-float64(f.y0)+.5)/float64(f.scale))*k
			if x >= 0 && y >= 0 && int(x) < f.w*k && int(y) < f.h*k {
				im.SetRGBA(int(x), int(y), color.RGBA{255, 0, 255, 255})
			}
		}
	}
	out, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = out.Close() }()
	if err := png.Encode(out, im); err != nil {
		t.Fatal(err)
	}
}
