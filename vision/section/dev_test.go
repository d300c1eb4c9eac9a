package section

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"
	"time"

	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/section/raster"
)

type devTruth struct {
	Image  string             `json:"image"`
	Expect *string            `json:"expect_retake"`
	Truth  map[string]float64 `json:"truth"`
	Aid    struct {
		MMPerPX float64         `json:"mm_per_px"`
		Sleeve  [][2]float64    `json:"sleeve"`
		Cavity  json.RawMessage `json:"cavity"`
		Bar     *struct {
			BarPX [][2]float64 `json:"bar_px"`
		} `json:"scale_bar"`
	} `json:"aid"`
}

func distance(p raster.Point, poly [][2]float64) float64 {
	best := math.Inf(1)
	inside := false
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		dx, dy := b[0]-a[0], b[1]-a[1]
		t := 0.
		if l := dx*dx + dy*dy; l > 0 {
			t = math.Max(0, math.Min(1, ((p.X-a[0])*dx+(p.Y-a[1])*dy)/l))
		}
		best = math.Min(best, math.Hypot(p.X-a[0]-t*dx, p.Y-a[1]-t*dy))
		if (a[1] <= p.Y) != (b[1] <= p.Y) && p.X < a[0]+(p.Y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			inside = !inside
		}
	}
	if inside {
		return -best
	}
	return best
}

func TestDev(t *testing.T) {
	dir := os.Getenv("SECTIONS")
	if dir == "" {
		t.Skip()
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*"+os.Getenv("ONLY")+"*.json"))
	sort.Strings(files)
	for _, f := range files {
		data, _ := os.ReadFile(f)
		var d devTruth
		if err := json.Unmarshal(data, &d); err != nil {
			continue
		}
		pic, err := picture.Open(filepath.Join(dir, d.Image))
		if err != nil {
			t.Fatal(err)
		}
		rec := record.New(record.Section)
		name := filepath.Base(d.Image)
		s := Subject{Mat: pic.Mat, Deep: pic.Deep, Scale: scale.Micro{Kind: "known", MMPerPX: d.Aid.MMPerPX, RelU: 0.0005}}
		if d.Aid.Bar != nil {
			b := d.Aid.Bar.BarPX
			x0, x1, y := b[0][0]-30, b[1][0]+30, b[0][1]
			s.Scale.Labels = [][]record.Point{{{X: x0, Y: y - 60}, {X: x1, Y: y - 60}, {X: x1, Y: y + 25}, {X: x0, Y: y + 25}}}
		}
		if out := os.Getenv("OUT"); out != "" {
			s.Debug = func(stage string, m gocv.Mat) { gocv.IMWrite(filepath.Join(out, name+"."+stage+".png"), m) }
		}
		start := time.Now()
		err = Measure(s, &rec)
		took := time.Since(start)
		line := name + fmt.Sprintf(" %4dms", took.Milliseconds())
		for _, m := range rec.Marks {
			if m.Kind == record.MarkSleeve {
				sum, n, sq, big := 0., 0, 0., 0.
				for _, p := range m.Points {
					e := distance(raster.Point{X: p.X, Y: p.Y}, d.Aid.Sleeve)
					if math.Abs(e) > 8 {
						continue
					}
					sum += e
					sq += e * e
					n++
					big = math.Max(big, math.Abs(e))
				}
				line += fmt.Sprintf(" outline n=%d mean %.2f rms %.2f max %.1f px (%.1f um)", n, sum/float64(n), math.Sqrt(sq/float64(n)), big, sum/float64(n)*d.Aid.MMPerPX*1000)
			}
		}
		fmt.Println(line, err, d.Expect != nil)
		pic.Close()
	}
}
