// Package demo writes an invented site with drawn photos: a ferry terminal's solar canopy, as an inspector photographs
// it, and its apprentice workshop, as a trainer has it. The same call always gives the same bytes.
package demo

import (
	"bytes"
	"context"
	_ "embed" // README.txt
	"encoding/csv"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"crimprule/samples"
)

// Widths of the photos in pixels: about 16 of them a millimetre, and 11.
const (
	usualWidth = 1200
	smallWidth = 800
)

//go:embed README.txt
var readme []byte

// Options of Write.
type Options struct {
	Small    bool                  // a few small pictures only
	Progress func(done, total int) // is called before the first picture and after each; nil: not
}

// Folders are the two places of the site, in dir: what scan and grade are called with.
const (
	Canopy   = "canopy"
	Workshop = "workshop"
)

// Write writes the site into dir, which is made or must be empty. The error quotes dir and ends with what to do.
func Write(ctx context.Context, dir string, o Options) error {
	if err := makeEmpty(dir); err != nil {
		return err
	}
	site := wholeSite(usualWidth)
	if o.Small {
		site = smallSite(smallWidth)
	}
	if err := writeTexts(dir, site); err != nil {
		return cannotWrite(dir, err)
	}
	return drawAll(ctx, dir, site, o.Progress)
}

func cannotWrite(dir string, err error) error {
	return fmt.Errorf("the demo cannot be written to %q: %w; delete what was written there, or name a folder with more room", dir, err)
}

// FolderError says why a folder cannot take the demo.
type FolderError string

func (f FolderError) Error() string { return string(f) }

func makeEmpty(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return FolderError(fmt.Sprintf("the folder %q cannot be made: %v; name another one", dir, err))
		}
	case err != nil:
		return FolderError(fmt.Sprintf("%q is no folder that the demo can be written to: %v; name a new folder", dir, err))
	case len(entries) > 0:
		return FolderError(fmt.Sprintf("the folder %q is not empty: name a new folder, so that nothing of yours is mixed with the demo", dir))
	}
	return nil
}

// writeTexts makes all folders and writes all that is not a picture.
func writeTexts(dir string, site []folder) error {
	texts := map[string][]byte{"README.txt": readme}
	for _, name := range []string{"canopy-4mm2.yaml", "canopy-4mm2-side.yaml", "workshop-4mm2-strip.yaml", "sections/canopy-4mm2-section.yaml"} {
		text, err := samples.Tolerances.ReadFile(name)
		if err != nil {
			return err
		}
		texts["tolerances/"+filepath.Base(name)] = text
	}
	for _, f := range site {
		texts[f.name+"/manifest.csv"] = f.manifest()
		for _, p := range f.pictures {
			if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, f.name, p.file)), 0o755); err != nil {
				return err
			}
		}
	}
	for name, text := range texts {
		path := filepath.Join(dir, name)
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, text, 0o644)); err != nil { //nolint:gosec // for all to read
			return err
		}
	}
	return nil
}

// manifest writes the folder's manifest.
func (f folder) manifest() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(f.columns) // a buffer takes everything
	for _, p := range f.pictures {
		cells := map[string]string{"file": p.file, "crimp": p.line.crimp, "view": p.line.view, "scale": p.line.scale, "tolerances": p.line.tolerances,
			"string": p.line.str, "crew": p.line.crew, "tool": p.line.tool, "trainee": p.line.trainee, "date": p.line.date, "own_verdict": p.line.own, "note": p.line.note}
		var row []string
		for _, c := range f.columns {
			row = append(row, cells[c])
		}
		_ = w.Write(row)
	}
	w.Flush()
	return b.Bytes()
}

// drawAll draws the pictures on all cores.
func drawAll(ctx context.Context, dir string, site []folder, progress func(done, total int)) error {
	type job struct {
		path string
		draw drawing
	}
	var all []job
	for _, f := range site {
		for _, p := range f.pictures {
			all = append(all, job{filepath.Join(dir, f.name, p.file), p.draw})
		}
	}
	if progress == nil {
		progress = func(int, int) {}
	}
	progress(0, len(all))
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	jobs := make(chan job)
	var wait sync.WaitGroup
	var mu sync.Mutex
	done := 0
	for range min(runtime.GOMAXPROCS(0), len(all)) {
		wait.Go(func() {
			for j := range jobs {
				data, err := j.draw()
				if err == nil {
					err = os.WriteFile(j.path, data, 0o644) //nolint:gosec // for all to read
				}
				if err != nil {
					stop(cannotWrite(dir, err))
					continue
				}
				mu.Lock()
				done++
				progress(done, len(all))
				mu.Unlock()
			}
		})
	}
	for _, j := range all {
		select {
		case jobs <- j:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(jobs)
	wait.Wait()
	return context.Cause(ctx)
}

func jpegOf(img image.Image, quality int) ([]byte, error) {
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality})
	return b.Bytes(), err
}

// cut is the first part of a file whose rest was lost.
func cut(whole drawing) drawing {
	return func() ([]byte, error) {
		data, err := whole()
		return data[:len(data)*2/5], err
	}
}
