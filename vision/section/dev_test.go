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
	"crimprule/vision/section/shape"
)

type devTruth struct {
	Image    string             `json:"image"`
	Expect   *string            `json:"expect_retake"`
	Truth    map[string]float64 `json:"truth"`
	Declared map[string]float64 `json:"declared"`
	Aid      struct {
		MMPerPX float64         `json:"mm_per_px"`
		Sleeve  [][2]float64    `json:"sleeve"`
		Cavity  json.RawMessage `json:"cavity"`
		Turn    float64         `json:"turn_deg"`
		AL, AR  float64
		ALj     float64   `json:"cavity_area_left_mm2"`
		ARj     float64   `json:"cavity_area_right_mm2"`
		Contact []float64 `json:"contact"`
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

func init() {
	devHook = func(at site, f shape.Found) {
		devFound = &f
		devContact = at.view.picture(at.frame.px(f.Contact))
	}
}

var devFound *shape.Found
var devContact raster.Point

func TestDev(t *testing.T) {
	dir := os.Getenv("SECTIONS")
	if dir == "" {
		t.Skip()
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*"+os.Getenv("ONLY")+"*.json"))
	sort.Strings(files)
	stats := map[string][][2]float64{}
	defer func() {
		for _, k := range record.Keys(record.Section) {
			sum, sq, in, mx := 0., 0., 0, 0.
			var us []float64
			for _, e := range stats[string(k)] {
				sum += e[0]
				sq += e[0] * e[0]
				if math.Abs(e[0]) <= e[1]+1e-12 {
					in++
				}
				mx = math.Max(mx, math.Abs(e[0]))
				us = append(us, e[1])
			}
			sort.Float64s(us)
			n := float64(len(us))
			if n > 0 {
				fmt.Printf("%-28s n %2.0f bias %+.4f rms %.4f max %.4f cover %.2f u %.4f\n", k, n, sum/n, math.Sqrt(sq/n), mx, float64(in)/n, us[len(us)/2])
			}
		}
	}()
	for _, f := range files {
		data, _ := os.ReadFile(f)
		var d devTruth
		if err := json.Unmarshal(data, &d); err != nil {
			continue
		}
		d.Aid.AL, d.Aid.AR = d.Aid.ALj, d.Aid.ARj
		devFound = nil
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
		s.Declared = record.Declared{ConductorArea: d.Declared["conductor_area_mm2"], StrandCount: d.Declared["strand_count"], StrandDiameter: d.Declared["strand_diameter"]}
		start := time.Now()
		err = Measure(s, &rec)
		took := time.Since(start)
		line := name + fmt.Sprintf(" %4dms", took.Milliseconds())
		keys := []string{}
		for k := range rec.Measured {
			keys = append(keys, string(k))
		}
		sort.Strings(keys)
		bad := ""
		for _, k := range keys {
			v := rec.Measured[record.Key(k)]
			t, ok := d.Truth[k]
			if !ok {
				continue
			}
			e := v.Value - t
			stats[k] = append(stats[k], [2]float64{e, v.U})
			if math.Abs(e) > v.U {
				bad += fmt.Sprintf(" %s %+.4f(u %.4f)", k, e, v.U)
			}
		}
		if devFound != nil && len(d.Aid.Contact) == 2 {
			t := d.Aid.Turn * math.Pi / 180
			dx, dy := d.Aid.Contact[0]-devContact.X, d.Aid.Contact[1]-devContact.Y
			line += fmt.Sprintf(" contact dx %+.1fum dy %+.1fum aL %+.2f%% aR %+.2f%%", 1000*d.Aid.MMPerPX*(dx*math.Cos(t)-dy*math.Sin(t)), 1000*d.Aid.MMPerPX*(-dx*math.Sin(t)-dy*math.Cos(t)), 100*(devFound.AreaLeft/d.Aid.AL-1), 100*(devFound.AreaRight/d.Aid.AR-1))
		}
		line += fmt.Sprint(" q:", rec.Quality, " un:", rec.Unmeasured, " cracks:", rec.Cracks, "\n      OUT:", bad)
		fmt.Println(line, err, d.Expect != nil)
		pic.Close()
	}
}
