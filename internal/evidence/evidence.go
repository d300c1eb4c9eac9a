// Package evidence writes what a scan found as a folder that can be handed over and opened without a network: a page
// with a list of all crimps and one page a crimp, a PDF for the file, a CSV for spreadsheets, the records as JSON lines,
// the tolerances files as they were, and a manifest with the SHA-256 of every file, which Verify checks.
//
// The four outputs show the same numbers: each value goes through package wording. Equal input gives equal bytes: dates
// come from Info, and no order hangs on a map. A scan is walked once and only the light part of each crimp is kept, so
// that ten thousand crimps need little memory.
package evidence

import (
	"context"
	"fmt"
	"runtime/debug"
	"time"

	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// Info is what stands over the evidence as a whole.
type Info struct {
	Title   string    // what the evidence is about
	Source  string    // what was scanned: a folder, a ZIP
	Program string    // name and version of the program
	When    time.Time // when the scan was finished; the only date that the files take as theirs

	Tolerances []Tolerances
	LeftAlone  []string // files that were no pictures and were left alone
	Notes      []string // what else a person must look into: sentences
	Lot        *Lot     // the sampling plan that the scan is judged by; nil where there is none
	Practice   bool     // it is about practice pieces of trainees, whoever made them
	// Views are those that were measured, for the cautions.
	Views []record.View
	// Missing are crimps that an earlier scan of the same source did not find to conform and whose pictures are gone.
	Missing []Missing
	Also    []Link // pages that functions in more add, for the list to lead to
}

// Link is a page of the evidence: what it is called, and its path with slashes.
type Link struct{ Title, Path string }

// Tolerances is a tolerances file that pictures were judged by. Hash is the SHA-256 of Text in hex, File its file's name.
type Tolerances struct {
	Hash, Name, File, Text string
	Limits                 tolerance.File
}

// Lot is a lot of which the scan is the sample: its size, the acceptance quality limit in per cent nonconforming, and
// the inspection level ("I", "II" or "III"; empty: II).
type Lot struct {
	Size  int
	AQL   float64
	Level string
}

// Source hands out the crimps of a scan, numbered 1, 2, ... and in this order at every call. A crimp that was handed out
// is not changed any more.
type Source interface {
	Crimps(ctx context.Context, each func(site.Crimp) error) error
}

// Names are what lies at the top of the folder that Write writes, but for the pictures and what functions in more add.
func Names() []string {
	return []string{"index.html", "crimps", "assets", "contact", "tolerances", "evidence.pdf", "crimps.csv", RecordsName, ManifestName}
}

// Write writes the evidence of a scan into dir, which holds the pictures already: Original, Overlay and Thumb of each
// picture are paths in it. Functions in more add files of their own before the manifest is made. An error leaves the
// folder without a manifest and without half a file; it quotes the path and says what to do.
func Write(ctx context.Context, dir string, info Info, src Source, more ...func(dir string) error) (Summary, error) {
	// What is written is garbage at once, and only a little is kept: collecting often costs little time and keeps the memory
	// of ten thousand crimps near to what is needed.
	defer debug.SetGCPercent(debug.SetGCPercent(15))
	out := folder(dir)
	b := newBook(info)
	var s Summary
	for _, step := range []func() error{
		func() error { return out.assets() },
		func() error { return out.tolerances(info.Tolerances) },
		func() error { return writeCrimps(ctx, out, b, src) },
		func() error { return out.contacts(ctx, b) },
		func() error { return out.page(b) },
		func() error { s = b.summary(); return nil },
		func() error { return out.pdf(ctx, b) }, // takes the book apart
	} {
		if err := ctx.Err(); err != nil {
			return Summary{}, err
		}
		if err := step(); err != nil {
			return Summary{}, err
		}
		debug.FreeOSMemory() // each step has garbage of its own, and none needs that of the one before
	}
	for _, add := range more {
		if err := add(dir); err != nil {
			return Summary{}, err
		}
	}
	sum, err := out.manifest(ctx)
	if err != nil {
		return Summary{}, err
	}
	s.Manifest = sum
	return s, nil
}

// writeCrimps walks the scan once: it writes the pages of the crimps, the CSV and the JSON lines, and fills the book.
func writeCrimps(ctx context.Context, out folder, b *book, src Source) error {
	return out.file("crimps.csv", func(csv *output) error {
		return out.file(RecordsName, func(lines *output) error {
			table, pages := newTable(csv), pager{out: out, book: b}
			if err := table.head(); err != nil {
				return err
			}
			err := src.Crimps(ctx, func(c site.Crimp) error {
				if c.Number != len(b.rows)+1 {
					return fmt.Errorf("crimp %q is number %d and comes after number %d: this is a fault of the program, please report it",
						c.Name(), c.Number, len(b.rows))
				}
				if err := ctx.Err(); err != nil {
					return err
				}
				b.take(c)
				if err := table.crimp(c); err != nil {
					return err
				}
				if err := writeLines(lines, c); err != nil {
					return err
				}
				return pages.crimp(c)
			})
			if err != nil {
				return err
			}
			if err := pages.last(); err != nil {
				return err
			}
			return table.end()
		})
	})
}
