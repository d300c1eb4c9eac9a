// Package accuracy holds what the program measures against pictures whose truth is known, and tells how far off it is: the
// tables in DEVELOPERS.md come from here (make accuracy).
package accuracy

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"crimprule/internal/tolerance"
	"crimprule/vision"
	"crimprule/vision/record"
)

// Case is a picture whose truth is known, and what the program may be told of it.
type Case struct {
	Set     string // what kind of picture it is: each has tables of its own
	Picture string // path
	Request vision.Request
	Truth   map[record.Key]float64
	Refuse  string // why the picture must be refused; empty where it must not
}

// truthFile is a truth file as it lies beside a picture. What else it holds is for people.
type truthFile struct {
	Image       string      `json:"image"`
	View        record.View `json:"view"`
	ScaleOption string      `json:"scale_option"`
	Declared    struct {
		Area       float64 `json:"conductor_area_mm2"`
		Count      float64 `json:"strand_count"`
		Strand     float64 `json:"strand_diameter"`
		Insulation float64 `json:"insulation_diameter"`
		Sheet      float64 `json:"sheet_thickness"`
	} `json:"declared"`
	Truth        map[record.Key]*float64 `json:"truth"` // null: not known
	ExpectRetake *string                 `json:"expect_retake"`
}

// Load reads the truth files of a folder, in the order of their names. Their pictures lie beside them, or in one of the further
// folders. set is what kind of pictures they are.
func Load(set, folder string, pictures ...string) ([]Case, error) {
	paths, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil {
		return nil, fmt.Errorf("folder %q: %w", folder, err)
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("folder %q holds no truth files (*.json): name a folder of test pictures", folder)
	}
	slices.Sort(paths)
	var cases []Case
	for _, path := range paths {
		c, err := load(path, append([]string{folder}, pictures...))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		c.Set = set
		cases = append(cases, c)
	}
	return cases, nil
}

func load(path string, folders []string) (Case, error) {
	data, err := os.ReadFile(path) //nolint:gosec // a file that the caller named
	if err != nil {
		return Case{}, err
	}
	var f truthFile
	if err := json.Unmarshal(data, &f); err != nil {
		return Case{}, fmt.Errorf("no truth file: %w; take it out of the folder", err)
	}
	if record.Keys(f.View) == nil {
		return Case{}, fmt.Errorf("its view %q is none that is measured; the views are seam, side, strip and section", f.View)
	}
	d := f.Declared
	c := Case{Truth: map[record.Key]float64{}, Request: vision.Request{View: f.View, Declared: record.Declared{ConductorArea: d.Area,
		StrandCount: d.Count, StrandDiameter: d.Strand, InsulationDiameter: d.Insulation, SheetThickness: d.Sheet}}}
	for key, value := range f.Truth {
		if value != nil {
			c.Truth[key] = *value
		}
	}
	if f.ExpectRetake != nil {
		c.Refuse = *f.ExpectRetake
	}
	if f.ScaleOption != "" {
		s, err := tolerance.ParseScale(f.ScaleOption)
		if err != nil {
			return Case{}, fmt.Errorf("scale_option %w", err)
		}
		option := vision.ScaleOption{Kind: s.Kind, LengthMM: s.Value}
		if s.Kind == "known" {
			option = vision.ScaleOption{Kind: s.Kind, MMPerPX: s.Value, HalfDigitMMPerPX: s.HalfDigit}
		}
		c.Request.Scales = []vision.ScaleOption{option}
	}
	for _, folder := range folders {
		c.Picture = filepath.Join(folder, f.Image)
		if info, err := os.Stat(c.Picture); err == nil && info.Mode().IsRegular() {
			return c, nil
		}
	}
	return Case{}, fmt.Errorf("its picture %q is in none of %q: put it beside the truth file", f.Image, folders)
}
