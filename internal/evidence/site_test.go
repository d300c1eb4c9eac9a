package evidence

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// invented is a site that was made up: crimps with records, of which some are bad, doubtful, blurred or not to be read.
type invented struct {
	n int
	limits,
	section tolerance.File
	dir string // where pictures lie; empty: there are none
}

const limitsText = `name: canopy of the ferry terminal, 4 mm²
view: seam
part:
  wire: 4 mm², 56 strands
limits:
  insulation_gap_mean: {min: 0.3 mm, max: 1.2 mm, aim: 0.7 mm, note: example}
  insulation_gap_max: {max: 1.5 mm, note: example}
  stray_count: {max: 0}
  symmetry: {min: 0.85}
  bend: {max: 3 deg}
`

const sectionText = `name: sections of the workshop
view: section
limits:
  crimp_height: {min: 1.55 mm, max: 1.75 mm, aim: 1.65 mm}
  void_ratio: {max: 0.05}
  strand_count: {min: 56, max: 56}
`

func newInvented(t testing.TB, n int) *invented {
	limits, err := tolerance.Parse("canopy.yaml", []byte(limitsText))
	require.NoError(t, err)
	section, err := tolerance.Parse("section.yaml", []byte(sectionText))
	require.NoError(t, err)
	return &invented{n: n, limits: limits, section: section}
}

func hashOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

func (v *invented) info() Info {
	return Info{
		Title: "Solar canopy, ferry terminal <north>", Source: "/photos/canopy", Program: "crimprule 0.5 (test)",
		When: time.Date(2026, 5, 4, 16, 30, 0, 0, time.FixedZone("", 2*3600)),
		Tolerances: []Tolerances{
			{Hash: hashOf(limitsText), Name: v.limits.Name, File: "canopy.yaml", Text: limitsText, Limits: v.limits},
			{Hash: hashOf(sectionText), Name: v.section.Name, File: "sections of <the> workshop.yaml", Text: sectionText, Limits: v.section},
		},
		LeftAlone: 3, Views: []record.View{record.Seam, record.Section},
	}
}

// Crimps makes the crimps one by one, always the same.
func (v *invented) Crimps(_ context.Context, each func(site.Crimp) error) error {
	position := 0
	for n := 1; n <= v.n; n++ {
		c := v.crimp(n, &position)
		if err := each(c); err != nil {
			return err
		}
	}
	return nil
}

func (v *invented) crimp(n int, position *int) site.Crimp {
	dice := rand.New(rand.NewPCG(uint64(n), 7))
	c := site.Crimp{Number: n, Label: site.Label{
		String: fmt.Sprintf("string %02d", 1+(n-1)/40), Crimp: fmt.Sprintf("crimp %d", n),
		Crew: []string{"crew A", "crew B", "crew C"}[n%3], Tool: fmt.Sprintf("tool %d", 1+n%2),
	}}
	add := func(rec *record.Record, failure string, limits *tolerance.File, text string) {
		p := site.Picture{Position: *position, File: fmt.Sprintf("day %d/IMG_%05d.jpg", 1+n/400, *position), Bytes: 3_000_000,
			SHA256: hashOf(fmt.Sprint(*position)), Label: c.Label, Origin: site.FromName, Record: rec, Failure: failure,
			Measured: time.Date(2026, 5, 4, 16, 0, n%60, 0, time.UTC)}
		if limits != nil {
			p.Tolerances = hashOf(text)
		}
		if rec != nil {
			rec.Image, rec.SHA256 = p.File, p.SHA256
			if limits != nil {
				judged := verdict.Judge(*rec, *limits)
				rec.Verdict = &judged
			}
		}
		v.store(&p)
		c.Pictures = append(c.Pictures, p)
		*position++
	}
	add(seamRecord(dice, n), "", &v.limits, limitsText)
	switch {
	case n%37 == 5:
		c.Pictures[0].Record.Refuse("hold the camera still: the picture is blurred")
		judged := verdict.Judge(*c.Pictures[0].Record, v.limits)
		c.Pictures[0].Record.Verdict = &judged
	case n%41 == 6:
		c.Pictures[0].Record, c.Pictures[0].Failure = nil, "the file ends too early; copy it again from the camera"
		c.Pictures[0].Overlay = ""
	case n%50 == 7:
		add(sectionRecord(dice), "", &v.section, sectionText)
	}
	if n%90 == 8 {
		c.Warn("the tag says %q and the manifest %q: look at the picture", "crimp 9", c.Label.Crimp)
	}
	c.Settle(true)
	return c
}

// seamRecord makes a record of the seam view: most are good; the gap walks away with the number on tool 2.
func seamRecord(dice *rand.Rand, n int) *record.Record {
	r := record.New(record.Seam)
	r.Taken = time.Date(2026, 5, 4, 8, 0, 0, 0, time.UTC).Add(time.Duration(n) * 40 * time.Second).Format(time.RFC3339)
	r.Scale = &record.Scale{Kind: "chessboard", MMPerPX: 0.0312, URel: 0.0011, TiltDeg: 4.1}
	gap := 0.7 + 0.12*dice.NormFloat64()
	if n%2 == 1 {
		gap += 0.0002 * float64(n)
	}
	r.Set(record.InsulationGapMean, gap, 0.0412)
	r.Set(record.InsulationGapMax, gap+0.1, 0.0533)
	r.Set(record.StrayCount, float64(max(0, dice.IntN(40)-38)), 0)
	r.Set(record.Symmetry, 0.95+0.02*dice.NormFloat64(), 0.021)
	r.Set(record.SeamOffset, -0.043+0.01*dice.NormFloat64(), 0.0123)
	r.Set(record.SleeveLength, 6.5, 0.05)
	if n%23 == 11 {
		r.Miss(record.Bend, "the contact's body is outside the picture: show the whole contact")
	} else {
		r.Set(record.Bend, 1+0.6*dice.Float64(), 0.5)
	}
	return &r
}

func sectionRecord(dice *rand.Rand) *record.Record {
	r := record.New(record.Section)
	r.Scale = &record.Scale{Kind: "bar", MMPerPX: 0.00205, URel: 0.002}
	r.Set(record.CrimpHeight, 1.65+0.01*dice.NormFloat64(), 0.008)
	r.Set(record.VoidRatio, 0.021, 0.004)
	r.Set(record.StrandCount, 56, 0)
	r.Voids = &record.Voids{Count: 3, AreaMM2: 0.02, U: 0.003, LargestMM2: 0.01}
	r.Notes = []string{"lost strands: 0"}
	return &r
}

// store says where the evidence has the pictures, and draws them where there is a folder.
func (v *invented) store(p *site.Picture) {
	if v.dir == "" {
		return
	}
	name := fmt.Sprintf("%05d", p.Position)
	p.Original, p.Overlay, p.Thumb = "originals/"+name+" #1.jpg", "overlays/"+name+".jpg", "thumbs/"+name+".jpg"
	draw(filepath.Join(v.dir, p.Original), 640, 480, p.Position)
	draw(filepath.Join(v.dir, p.Overlay), 640, 480, p.Position)
	draw(filepath.Join(v.dir, p.Thumb), 192, 144, p.Position)
}

// draw writes a small picture that has nothing to do with crimps; one that is there stays.
func draw(path string, w, h, n int) {
	if _, err := os.Stat(path); err == nil {
		return
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetRGBA(x, y, color.RGBA{uint8(x * 255 / w), uint8(y * 255 / h), uint8(n * 37), 255})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 60}); err != nil {
		panic(err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		panic(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		panic(err)
	}
}
