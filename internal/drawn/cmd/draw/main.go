// Draw writes drawn test pictures with their truth:
//
//	go run ./internal/drawn/cmd/draw -demo                   the demo: samples/ (sections: samples/sections/) and testdata/drawn/
//	go run ./internal/drawn/cmd/draw -first 1 -count 20 -out DIR   random scenes, picture and truth side by side
//	go run ./internal/drawn/cmd/draw -spoil -out DIR               one bad photo of each kind, which must be refused
//
// With -view side, strip or mix they are photos of other views on any ground, with any scale reference (for the seam view so: -varied);
// with -view section micrographs of sections. -width N draws photos N px wide; -labels puts NAME.labels.png beside
// each photo, one class a pixel: 0 ground, 1 scale reference, 2 insulation, 3 bare conductor, 4 sleeve, 5 brush, 6 neck and body, 7 stray
// strands, 8 strands seen through the sleeve.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"crimprule/internal/drawn"
	"crimprule/internal/drawn/section"
	"crimprule/vision/record"
)

// scene is a photo's or a micrograph's.
type scene interface {
	Write(picture, truth string) error
}

func main() {
	demo := flag.Bool("demo", false, "write the demo's pictures into samples/ and their truth into testdata/drawn/")
	first := flag.Int64("first", 1, "seed of the first random scene")
	count := flag.Int64("count", 0, "how many random scenes")
	out := flag.String("out", "", "existing folder for random scenes")
	spoil := flag.Bool("spoil", false, "write one bad photo of each kind into the folder; with -count so many, the kinds in turn")
	view := flag.String("view", "seam", "what to draw: seam, side, strip, or mix of these (photos), or section (micrographs)")
	varied := flag.Bool("varied", false, "with -view seam: any reference, ground and light, as side, strip and mix always have")
	width := flag.Int("width", 0, "width of photos in px (default: their own)")
	labels := flag.Bool("labels", false, "write the class of each pixel beside each photo")
	flag.Parse()
	var err error
	if *width != 0 && *width < 100 {
		*view, err = "", fmt.Errorf("-width %d is too small to show anything; give 100 or more, or leave it out", *width)
	}
	switch *view {
	case "":
		if err == nil {
			err = fmt.Errorf("-view is empty; give -view seam, side, strip, mix or section")
		}
	case "seam", "side", "strip", "mix":
		random := anything(*view)
		if *view == "seam" && !*varied {
			random = drawn.Random
		}
		err = run(photos(random, *width, *labels), *demo, *spoil, *first, *count, *out)
	case "section":
		err = run(sections, *demo, *spoil, *first, *count, *out)
	default:
		err = fmt.Errorf("there is no view %q; give -view seam, side, strip, mix or section", *view)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "draw:", err)
		os.Exit(1)
	}
}

// kind is how one kind of picture is made; every function also gives the ending of the picture's name.
type kind struct {
	demo   func() (names, endings []string, scenes []scene)
	random func(seed int64) (string, scene)
	spoil  func(seed int64, why string) (string, scene)
	faults func(seed int64) []string
	folder string // of the demo's pictures
	truth  string // folder of the demo's truth
}

// photo is a photo's scene with what the command line asks for.
type photo struct {
	drawn.Scene
	width  int
	labels bool
}

func (p photo) Write(picture, truth string) error {
	s, labels := p.Scene, ""
	if p.width > 0 {
		s = s.Wide(p.width)
	}
	if p.labels {
		labels = strings.TrimSuffix(picture, filepath.Ext(picture)) + ".labels.png"
	}
	return s.WriteLabelled(picture, truth, labels)
}

// anything gives the varied scenes of a view, or of all views in turn.
func anything(view string) func(seed int64) drawn.Scene {
	return func(seed int64) drawn.Scene {
		if view == "mix" {
			return drawn.Varied(seed, drawn.Views[seed%int64(len(drawn.Views))])
		}
		return drawn.Varied(seed, record.View(view))
	}
}

func photos(random func(int64) drawn.Scene, width int, labels bool) kind {
	return kind{
		demo: func() (names, endings []string, scenes []scene) {
			for _, s := range drawn.Demo() {
				names, endings, scenes = append(names, s.Name), append(endings, "jpg"), append(scenes, photo{s.Scene, 0, false})
			}
			return names, endings, scenes
		},
		random: func(seed int64) (string, scene) { return "jpg", photo{random(seed), width, labels} },
		spoil: func(seed int64, why string) (string, scene) {
			return "jpg", photo{random(seed).Spoil(why), width, labels}
		},
		faults: func(seed int64) []string { return drawn.FaultsOf(random(seed).View) },
		folder: "samples",
		truth:  filepath.Join("testdata", "drawn"),
	}
}

var sections = kind{
	demo: func() (names, endings []string, scenes []scene) {
		for _, s := range section.Demo() {
			names, endings, scenes = append(names, s.Name), append(endings, s.Scene.Format.Ending()), append(scenes, s.Scene)
		}
		return names, endings, scenes
	},
	random: func(seed int64) (string, scene) {
		s := section.Random(seed)
		return s.Format.Ending(), s
	},
	spoil: func(seed int64, why string) (string, scene) {
		s := section.Random(seed).Spoil(why)
		return s.Format.Ending(), s
	},
	faults: func(int64) []string { return section.Faults },
	folder: filepath.Join("samples", "sections"),
	truth:  filepath.Join("samples", "sections"), // ignored by git: the tests draw the scenes themselves
}

func run(k kind, demo, spoil bool, first, count int64, out string) error {
	if !demo && (count <= 0 && !spoil || out == "") {
		return fmt.Errorf("nothing to draw; give -demo, or -out with -count or -spoil")
	}
	if first < 0 {
		return fmt.Errorf("-first %d is no seed; give 0 or more", first)
	}
	if demo {
		names, endings, scenes := k.demo()
		for i, name := range names {
			if err := write(scenes[i], filepath.Join(k.folder, name+"."+endings[i]), filepath.Join(k.truth, name+".json")); err != nil {
				return err
			}
		}
	}
	if spoil {
		return bad(k, first, count, out)
	}
	for seed := first; seed < first+count; seed++ {
		ending, s := k.random(seed)
		name := filepath.Join(out, fmt.Sprintf("drawn-%04d", seed))
		if err := write(s, name+"."+ending, name+".json"); err != nil {
			return err
		}
	}
	return nil
}

// bad draws one picture of each fault of the first seed, or with a count one fault a seed in turn.
func bad(k kind, first, count int64, out string) error {
	draw := func(seed int64, i int, why string) error {
		ending, s := k.spoil(seed, why)
		name := filepath.Join(out, fmt.Sprintf("spoiled-%04d-%02d", seed, i+1))
		return write(s, name+"."+ending, name+".json")
	}
	if count <= 0 {
		for i, why := range k.faults(first) {
			if err := draw(first, i, why); err != nil {
				return err
			}
		}
	}
	for seed := first; seed < first+count; seed++ {
		// Views take turns by the seed as well: a division keeps faults and views from going in step.
		faults := k.faults(seed)
		i := int(seed/3) % len(faults)
		if err := draw(seed, i, faults[i]); err != nil {
			return err
		}
	}
	return nil
}

func write(s scene, picture, truth string) error {
	fmt.Println(picture)
	return s.Write(picture, truth)
}
