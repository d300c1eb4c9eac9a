package scan

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"

	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// LimitsFile is a tolerances file as it was read: its text is kept as evidence, its hash names it for good.
type LimitsFile struct {
	Hash   string // SHA-256 of Text, hex
	File   string // the file's name without folders
	Text   string
	Limits tolerance.File
}

// Limits are the tolerances files that pictures are judged by, each for its own view. A file that names no view is for
// all views that have none of their own.
type Limits []LimitsFile

// LoadLimits reads the tolerances files that the call names. Two for the same view are a mistake.
func LoadLimits(paths []string) (Limits, error) {
	return loadLimits(paths, func(path string) (tolerance.File, []byte, error) {
		file, err := tolerance.Load(path)
		if err != nil {
			return file, nil, err
		}
		text, err := os.ReadFile(path) //nolint:gosec // reading the file that the user names is what this is for
		if err != nil {
			return file, nil, fmt.Errorf("tolerances file %q cannot be read: %w", path, err)
		}
		return file, text, nil
	})
}

// limitsOf reads the tolerances files that a manifest names, which may lie in a ZIP.
func limitsOf(listing *Listing, names []string) (Limits, error) {
	return loadLimits(names, func(name string) (tolerance.File, []byte, error) {
		text, err := listing.Read(name)
		if err != nil {
			return tolerance.File{}, nil, err
		}
		file, err := tolerance.Parse(name, text)
		return file, text, err
	})
}

func loadLimits(paths []string, load func(path string) (tolerance.File, []byte, error)) (Limits, error) {
	var limits Limits
	from := map[record.View]string{}
	for _, path := range paths {
		file, text, err := load(path)
		if err != nil {
			return nil, err
		}
		if first, twice := from[file.View]; twice {
			if first == path {
				continue
			}
			return nil, fmt.Errorf("the tolerances files %q and %q are both for %s: keep one of them, or give each a 'view:' of its own",
				first, path, viewWords(file.View))
		}
		from[file.View] = path
		sum := sha256.Sum256(text)
		limits = append(limits, LimitsFile{Hash: hex.EncodeToString(sum[:]), File: filepath.Base(path), Text: string(text), Limits: file})
	}
	return limits, nil
}

func viewWords(view record.View) string {
	if view == "" {
		return "any view"
	}
	return "the " + string(view) + " view"
}

// For gives the file for a view; nil where there is none.
func (l Limits) For(view record.View) *LimitsFile {
	var general *LimitsFile
	for i := range l {
		switch l[i].Limits.View {
		case view:
			return &l[i]
		case "":
			general = &l[i]
		}
	}
	return general
}

// Declared is what the files say of the part in pictures of a view. Where each picture is to tell its view, all files
// must say the same.
func (l Limits) Declared(view record.View) (record.Declared, error) {
	if view != record.Auto {
		if file := l.For(view); file != nil {
			return file.Limits.Declared(), nil
		}
		return record.Declared{}, nil
	}
	var all record.Declared
	for _, file := range l {
		d := file.Limits.Declared()
		for _, v := range []struct {
			key      string
			from, to *float64
		}{
			{"conductor_area", &d.ConductorArea, &all.ConductorArea},
			{"strand_count", &d.StrandCount, &all.StrandCount},
			{"strand_diameter", &d.StrandDiameter, &all.StrandDiameter},
			{"insulation_diameter", &d.InsulationDiameter, &all.InsulationDiameter},
			{"sheet_thickness", &d.SheetThickness, &all.SheetThickness},
		} {
			switch {
			case *v.from == 0:
			case *v.to != 0 && *v.to != *v.from:
				return record.Declared{}, fmt.Errorf("the tolerances file %q says %s %g, another one %g: scan pictures of different wires "+
					"apart, or say each picture's tolerances file in the manifest", file.File, v.key, *v.from, *v.to)
			default:
				*v.to = *v.from
			}
		}
	}
	return all, nil
}

// Judge gives the record with its verdict, and the hash of the file that judged it. Without a file for the record's view
// the record stays as it is.
func (l Limits) Judge(rec record.Record) (record.Record, string) {
	file := l.For(rec.View)
	if file == nil && len(rec.Retake) > 0 && len(l) > 0 {
		file = &l[0] // refused before its view was known: whatever the limits, nothing was measured
	}
	if file == nil {
		return rec, ""
	}
	v := verdict.Judge(rec, file.Limits)
	rec.Verdict = &v
	return rec, file.Hash
}
