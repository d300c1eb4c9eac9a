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
	"strings"
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
	n       int
	odd     bool // its first crimps have names that are hard to print
	plain   bool // nothing was judged
	limits  tolerance.File
	section tolerance.File
	dir     string // where pictures lie; empty: there are none
}

const canopyText = `name: canopy of the ferry terminal, 4 mm²
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

const workshopText = `name: sections of the workshop
view: section
limits:
  crimp_height: {min: 1.55 mm, max: 1.75 mm, aim: 1.65 mm}
  void_ratio: {max: 0.05}
  strand_count: {min: 56, max: 56}
`

func newInvented(t testing.TB, n int) *invented {
	limits, err := tolerance.Parse("canopy.yaml", []byte(canopyText))
	require.NoError(t, err)
	section, err := tolerance.Parse("section.yaml", []byte(workshopText))
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
			{Hash: hashOf(canopyText), Name: v.limits.Name, File: "canopy.yaml", Text: canopyText, Limits: v.limits},
			{Hash: hashOf(workshopText), Name: v.section.Name, File: "sections of <the> workshop.yaml", Text: workshopText, Limits: v.section},
		},
		LeftAlone: []string{"notes.txt", "plan.pdf", ".DS_Store"}, Views: []record.View{record.Seam, record.Section},
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
	if v.odd && n <= len(oddities) {
		return v.oddCrimp(dice, n, position)
	}
	c := site.Crimp{Number: n, Label: site.Label{
		String: fmt.Sprintf("string %02d", 1+(n-1)/40), Crimp: fmt.Sprintf("crimp %d", n),
		Crew: []string{"crew A", "crew B", "crew C"}[n%3], Tool: fmt.Sprintf("tool %d", 1+n%2),
	}}
	add := func(rec *record.Record, failure string, limits tolerance.File, text string) {
		c.Pictures = append(c.Pictures, v.picture(rec, failure, limits, text, c.Label, fmt.Sprintf("day %d/IMG_%05d.jpg", 1+n/400, *position), *position))
		*position++
	}
	rec := seamRecord(dice, n)
	switch {
	case n%37 == 5:
		rec.Refuse("hold the camera still: the picture is blurred", "come closer")
		add(rec, "", v.limits, canopyText)
	case n%41 == 6:
		add(nil, "the file ends too early; copy it again from the camera", v.limits, canopyText)
	case n%50 == 7:
		add(rec, "", v.limits, canopyText)
		add(sectionRecord(dice), "", v.section, workshopText)
	default:
		add(rec, "", v.limits, canopyText)
	}
	if n%90 == 8 {
		c.Warn("the tag says %q and the manifest %q: look at the picture", "crimp 9", c.Label.Crimp)
	}
	if n%60 == 9 {
		c.Elsewhere = []site.Elsewhere{
			{ID: int64(n), Key: "pull_out_force", Value: record.Value{Value: 331.5, U: 4, Unit: "N"}, Who: "inspector, bench 2", When: "2026-05-05", Note: "slow pull"},
			{ID: int64(n) + 1, Key: record.CrimpHeight, Value: record.Value{Value: 1.652, U: 0.01, Unit: "mm"}, Who: "inspector", When: "2026-05-05"},
		}
		if !v.plain {
			height := record.Record{View: record.Section, Measured: map[record.Key]record.Value{record.CrimpHeight: c.Elsewhere[1].Value}}
			judged := verdict.Judge(height, tolerance.File{Name: "workshop", Limits: v.section.Limits[:1]})
			c.ElsewhereVerdict = &judged
		}
	}
	c.Settle(!v.plain)
	return c
}

// picture is one picture of a crimp, judged.
func (v *invented) picture(rec *record.Record, failure string, limits tolerance.File, text string, label site.Label, file string, position int) site.Picture {
	p := site.Picture{Position: position, File: file, Bytes: 3_000_000, SHA256: hashOf(fmt.Sprint(position)), Label: label, Origin: site.FromName,
		Record: rec, Failure: failure, Measured: time.Date(2026, 5, 4, 16, 0, position%60, 0, time.UTC)}
	if !v.plain {
		p.Tolerances = hashOf(text)
	}
	if rec != nil {
		rec.Image, rec.SHA256 = p.File, p.SHA256
		if !v.plain {
			judged := verdict.Judge(*rec, limits)
			rec.Verdict = &judged
		}
	}
	v.store(&p)
	return p
}

// oddities are names that a file system allows and that spoil what is careless: markup, formulas, ends of lines, other
// scripts and directions, bytes that are no UTF-8, parts of URLs.
var oddities = []string{
	"<script>document.title='broken'</script>", `"quoted" & 'single' \ back`, "two\nlines\tand tab", "=1+2", "+49 30", "-crimp", "@cell",
	"стрелка Ω ğüş", "עברית שמאל", "中文 名称", "right\u202eto left", "not \xff utf-8", "100%41 #1?x=y&amp;", "../up", "\x1b[2Jclear", "javascript:alert(1)",
	"{{.Title}}", "</td></tr></table>", "\u2003", "",
}

func (v *invented) oddCrimp(dice *rand.Rand, n int, position *int) site.Crimp {
	name := oddities[n-1]
	c := site.Crimp{Number: n, Label: site.Label{String: name, Crimp: name, Crew: name, Tool: name, Trainee: name, Note: name}}
	rec := seamRecord(dice, n)
	rec.Tag, rec.Camera, rec.Notes = name, name, []string{name}
	rec.Miss(record.SleeveWidth, name)
	c.Pictures = append(c.Pictures, v.picture(rec, "", v.limits, canopyText, c.Label, name+"/"+name+".jpg", *position))
	*position++
	c.Pictures = append(c.Pictures, v.picture(nil, name, v.limits, canopyText, c.Label, name+".png", *position))
	*position++
	c.Warn("%s", name)
	c.Settle(!v.plain)
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
	r.Taken = "2026-05-04T15:00:00"
	r.Scale = &record.Scale{Kind: "bar", MMPerPX: 0.00205, URel: 0.002}
	r.Set(record.CrimpHeight, 1.65+0.01*dice.NormFloat64(), 0.008)
	r.Set(record.VoidRatio, 0.021, 0.004)
	r.Set(record.StrandCount, 56, 0)
	r.Voids = &record.Voids{Count: 3, AreaMM2: 0.02, U: 0.003, LargestMM2: 0.01}
	r.Notes = []string{"lost strands: 0"}
	return &r
}

// store says where the evidence has the pictures, and draws them where there is a folder. Originals keep their names.
func (v *invented) store(p *site.Picture) {
	if v.dir == "" {
		return
	}
	name := fmt.Sprintf("%05d", p.Position)
	p.Original = "originals/" + name + "-" + strings.ReplaceAll(p.File, "/", "_")
	v.draw(p.Original, 640, 480, p.Position)
	if p.Record != nil {
		p.Overlay, p.Thumb = "overlays/"+name+".jpg", "thumbs/"+name+".jpg"
		v.draw(p.Overlay, 640, 480, p.Position)
		v.draw(p.Thumb, 192, 144, p.Position)
	}
}

var drawn = map[[3]int][]byte{}

// draw writes a small picture that has nothing to do with crimps; one that is there stays.
func (v *invented) draw(name string, w, h, n int) {
	path := filepath.Join(v.dir, name)
	if _, err := os.Stat(path); err == nil {
		return
	}
	key := [3]int{w, h, n % 7}
	if drawn[key] == nil {
		img := image.NewRGBA(image.Rect(0, 0, w, h))
		for y := range h {
			for x := range w {
				img.SetRGBA(x, y, color.RGBA{uint8(x * 255 / w), uint8(y * 255 / h), uint8(n % 7 * 36), 255})
			}
		}
		var b bytes.Buffer
		must(jpeg.Encode(&b, img, &jpeg.Options{Quality: 60}))
		drawn[key] = b.Bytes()
	}
	must(os.MkdirAll(filepath.Dir(path), 0o755))
	must(os.WriteFile(path, drawn[key], 0o644))
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}
