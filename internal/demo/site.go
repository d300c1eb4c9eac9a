package demo

import (
	"fmt"

	"crimprule/internal/drawn"
)

// drawing gives a file's bytes.
type drawing func() ([]byte, error)

// picture is one file of the site and its line in the manifest.
type picture struct {
	file  string // from its folder on
	line  line
	draw  drawing
	scene *drawn.Scene // of a photo that can be measured; nil for any other file
}

// line is what a manifest says of a picture; empty parts are left out.
type line struct {
	crimp, view, scale, tolerances string
	str, crew, tool                string
	trainee, own                   string
	date, note                     string
}

// folder is one of the two places of the site.
type folder struct {
	name     string
	columns  []string
	pictures []picture
}

const (
	board   = "chessboard=5mm"
	rule    = "rule=1mm"
	drawBar = "bar=1000um"
)

// limits are the tolerances files by view.
var limits = map[string]string{
	"seam": "../tolerances/canopy-4mm2.yaml", "side": "../tolerances/canopy-4mm2-side.yaml",
	"strip": "../tolerances/workshop-4mm2-strip.yaml", "section": "../tolerances/canopy-4mm2-section.yaml",
}

// scales are the scale references by view.
var scales = map[string]string{"seam": board, "side": rule, "strip": board, "section": drawBar}

func (l line) as(view string) line {
	l.view, l.scale, l.tolerances = view, scales[view], limits[view]
	return l
}

// the whole site, photos so many pixels wide.
func wholeSite(width int) []folder {
	return []folder{canopy(width), workshop(width)}
}

// smallSite is for trying the program itself: few pictures, and small ones.
func smallSite(width int) []folder {
	c, w := canopy(width), workshop(width)
	c.pictures = []picture{c.pictures[0], c.pictures[len(c.pictures)-1]} // a sound crimp, and the broken file
	w.pictures = w.pictures[:2]
	return []folder{c, w}
}

// builder adds pictures to a folder.
type builder struct {
	folder
	width int
	seed  int64
	light on
}

// crimp adds a photo of a crimp onto its seam, with its faults.
func (b *builder) crimp(file string, l line, faults ...fault) drawn.Scene {
	b.seed++
	s := seam(b.seed, b.light)
	for _, f := range faults {
		f(&s.Part)
	}
	b.photo(file, l.as("seam"), s)
	return s
}

// photo adds a photo of any scene.
func (b *builder) photo(file string, l line, s drawn.Scene) {
	b.add(file, l, photo(s, b.width))
	b.pictures[len(b.pictures)-1].scene = &s
}

// add adds a file that is not to be measured, or not a photo.
func (b *builder) add(file string, l line, d drawing) {
	b.pictures = append(b.pictures, picture{file: file + ".jpg", line: l, draw: d})
}

// canopy is what the inspector brings home: two strings and a half, two crews, two tools.
func canopy(width int) folder {
	b := builder{folder: folder{name: Canopy, columns: []string{"file", "string", "crimp", "crew", "tool", "date", "view", "scale", "tolerances", "note"}},
		width: width, seed: 100, light: roof}
	north := func(crimp string) line {
		return line{str: "north-03", crimp: crimp, crew: "A", tool: "T1", date: "2026-05-04"}
	}
	first := b.crimp("north-03/crimp-1-seam", north("1"))
	b.photo("north-03/crimp-1-side", north("1").as("side"), aside(first))
	b.crimp("north-03/crimp-2-seam", north("2"))
	b.crimp("north-03/crimp-3-seam", north("3"), gap(1.9))
	stray := line{str: "north-04", crimp: "1", crew: "A", tool: "T1", date: "2026-05-05"}
	b.crimp("north-04/crimp-1-seam", stray, strayStrand)
	again := stray
	again.crimp, again.note = "2", "two crimps in one photo: taken again"
	b.seed++
	retake := seam(b.seed, b.light)
	b.add("north-04/crimp-2-seam", again.as("seam"), photo(twoCrimps(retake), width))
	again.note = ""
	b.photo("north-04/crimp-2-seam-again", again.as("seam"), retake)

	b.light, b.seed = tent, 200
	for n := 1; n <= 9; n++ { // the die of T2 wears
		day := fmt.Sprintf("2026-05-%02d", 4+(n-1)/3)
		b.crimp(fmt.Sprintf("south-07/crimp-%d-seam", n), line{str: "south-07", crimp: fmt.Sprint(n), crew: "B", tool: "T2", date: day}, worn(n))
	}
	for i, name := range []string{"workshop-crew-A-section-01", "workshop-crew-A-section-02"} {
		l := line{crimp: fmt.Sprint("section T", i+1), crew: []string{"A", "B"}[i], tool: fmt.Sprint("T", i+1), date: "2026-05-07", note: "test crimp, cut and etched"}
		b.add(fmt.Sprintf("sections/T%d", i+1), l.as("section"), micrograph(name))
	}
	lost := stray
	lost.crimp, lost.note = "3", "the memory card was pulled out too early"
	b.add("north-04/crimp-3-seam", lost.as("seam"), cut(photo(seam(110, roof), width)))
	return b.folder
}

// workshop is what the trainer has: four trainees with five crimps each, over three dates.
func workshop(width int) folder {
	b := builder{folder: folder{name: Workshop, columns: []string{"file", "trainee", "crimp", "tool", "date", "own_verdict", "view", "scale", "tolerances", "note"}},
		width: width, seed: 300, light: bench}
	dates := []string{"2026-03-02", "2026-03-02", "2026-03-09", "2026-03-09", "2026-03-16"}
	none := func(*drawn.Part) {}
	for i, t := range []struct {
		faults [5]fault
		own    [5]string
	}{
		{[5]fault{none, none, none, none, none}, [5]string{"good", "good", "good", "good", "good"}},                              // ready
		{[5]fault{gap(2.2), gap(1.9), gap(1.7), none, none}, [5]string{"bad", "bad", "good", "good", "good"}},                    // strips too much, and learns
		{[5]fault{pieceMissing, seamOffset(0.36), strayStrand, none, gap(2)}, [5]string{"good", "good", "good", "good", "good"}}, // sees no fault of their own
		{[5]fault{none, brush(2.7), none, bend(6), none}, [5]string{"good", "bad", "bad", "bad", "good"}},                        // is too strict once
	} {
		trainee := fmt.Sprint("trainee ", i+1)
		for n, f := range t.faults {
			b.crimp(fmt.Sprintf("trainee-%d/crimp-%d", i+1, n+1), line{trainee: trainee, crimp: fmt.Sprint(n + 1), tool: "T1", date: dates[n], own: t.own[n]}, f)
		}
	}
	b.photo("trainee-2/wire-1", line{trainee: "trainee 2", crimp: "wire 1", tool: "T1", date: dates[2], note: "the stripped wire of an exercise"}.as("strip"),
		stripped(seam(400, bench)))
	return b.folder
}
