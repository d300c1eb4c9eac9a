// Accuracy measures all test pictures with known truth and prints tables of how far off the program is:
//
//	go run ./internal/accuracy/cmd/accuracy [-drawn N] [-write DEVELOPERS.md] [FOLDER...]
//
// Rendered pictures, by other code than this project's, are those of testdata/photo and testdata/section, and of further folders with
// truth files of the same form beside them; a picture that lies in two folders counts once. Drawn ones, by this project's own
// renderers, are the demo's and, with -drawn, random ones: N plain photos of the seam (seeds 1 to N), N sections (seeds 101 to 100+N), and
// N varied photos of each view, with any scale reference, ground, light and things lying about; each takes some seconds. With
// -write the tables take the place of those in the document.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"crimprule/internal/accuracy"
	"crimprule/internal/drawn"
	"crimprule/internal/drawn/section"
	"crimprule/vision"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

func main() {
	write := flag.String("write", "", "document whose accuracy blocks are written anew")
	random := flag.Int("drawn", 0, "how many random pictures of each kind to draw and measure too")
	flag.Parse()
	cases, err := own()
	if err == nil {
		err = run(context.Background(), cases, *random, *write, flag.Args())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "accuracy:", err)
		os.Exit(1)
	}
}

// The sets.
const (
	rendered = "rendered"
	drawnBy  = "drawn"
	varied   = "drawn, varied"
)

// run measures these pictures, random ones and those of the folders.
func run(ctx context.Context, cases []accuracy.Case, random int, document string, folders []string) error {
	for _, folder := range folders {
		more, err := accuracy.Load(rendered, folder)
		if err != nil {
			return err
		}
		cases = append(cases, more...)
	}
	var tables accuracy.Tables
	if err := measure(ctx, cases, &tables); err != nil {
		return err
	}
	if err := measureRandom(ctx, random, &tables); err != nil {
		return err
	}
	photos := tables.Markdown(record.Seam, record.Side, record.Strip)
	sections := tables.Markdown(record.Section)
	fmt.Printf("%s\n%s\n%s", photos, sections, lines(tables.Complaints()))
	if document == "" {
		return nil
	}
	return rewrite(document, map[string]string{"accuracy": photos, "accuracy-sections": sections})
}

func lines(texts []string) string {
	if len(texts) == 0 {
		return ""
	}
	return strings.Join(texts, "\n") + "\n"
}

// own are the project's own pictures; the program is called in the project's folder.
func own() ([]accuracy.Case, error) {
	var all []accuracy.Case
	for _, s := range []struct{ set, truths, pictures string }{
		{rendered, "testdata/photo", "testdata/photo"}, {drawnBy, "testdata/drawn", "samples"}, {rendered, "testdata/section", "testdata/section"},
	} {
		cases, err := accuracy.Load(s.set, s.truths, s.pictures)
		if err != nil {
			return nil, fmt.Errorf("%w; call this in the project's folder", err)
		}
		all = append(all, cases...)
	}
	return all, nil
}

// scene is a picture that can be drawn.
type scene interface {
	Write(picture, truth string) error
}

// randomScenes are the i-th ones, from 0 on, by set and the picture's name.
func randomScenes(i int, draw func(set, name string, s scene) error) error {
	seed := int64(1 + i)
	cut := section.Random(100 + seed)
	errs := []error{draw(drawnBy, fmt.Sprintf("seam-%d.jpg", seed), drawn.Random(seed)),
		draw(drawnBy, fmt.Sprintf("section-%d.%s", 100+seed, cut.Format.Ending()), cut)}
	for _, view := range drawn.Views {
		errs = append(errs, draw(varied, fmt.Sprintf("%s-%d.jpg", view, seed), drawn.Varied(seed, view)))
	}
	return errors.Join(errs...)
}

// measureRandom draws n random photos and sections of each kind, one at a time, and measures them.
func measureRandom(ctx context.Context, n int, to *accuracy.Tables) error {
	folder, err := os.MkdirTemp("", "accuracy")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(folder) }()
	for i := range n {
		err := randomScenes(i, func(set, name string, s scene) error {
			here := filepath.Join(folder, fmt.Sprint(i), name)
			if err := os.MkdirAll(here, 0o750); err != nil {
				return err
			}
			if err := s.Write(filepath.Join(here, name), filepath.Join(here, "truth.json")); err != nil {
				return err
			}
			cases, err := accuracy.Load(set, here)
			if err != nil {
				return err
			}
			return errors.Join(measure(ctx, cases, to), os.RemoveAll(here))
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// measure goes through the pictures one by one.
func measure(ctx context.Context, cases []accuracy.Case, to *accuracy.Tables) error {
	for _, c := range cases {
		pic, err := picture.Open(c.Picture)
		if err != nil {
			return err
		}
		if to.Has(pic.SHA256) {
			pic.Close()
			continue
		}
		rec, err := vision.Measure(ctx, pic, c.Request)
		pic.Close()
		if err != nil {
			return fmt.Errorf("%s: %w", c.Picture, err)
		}
		to.Add(c, rec)
	}
	return nil
}

func rewrite(path string, blocks map[string]string) error {
	data, err := os.ReadFile(path) //nolint:gosec // a file that the caller named
	if err != nil {
		return err
	}
	text := string(data)
	for name, body := range blocks {
		if text, err = accuracy.Rewrite(text, name, body); err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
	}
	return os.WriteFile(path, []byte(text), 0o644) //nolint:gosec // a document of the project
}
