// Package tolerance reads what a crimp is judged by: the tolerances file (YAML, strict) and what the command line
// says of the part and of the scale reference. Whatever is wrong is told with its place, the line itself and what to
// do about it.
package tolerance

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"crimprule/vision/record"
)

// DefaultConfidence is the probability that a decision needs where the file states none (ISO 14253-1:2017: 95 %).
const DefaultConfidence = 0.95

// File is a tolerances file that was found to be right.
type File struct {
	Name       string      // what the file is for
	View       record.View // the view that the limits are for; empty: any view
	Confidence float64     // probability that a decision needs, over 0.5 and under 1
	Part       Part
	Limits     []Limit // in the order of the file; each measurand once
	Elsewhere  []Limit // of values measured elsewhere (package elsewhere), in the order of the file; each once
}

// Part is what the file says of the wire and the contact. Zero or empty means not stated. Lengths are millimetres,
// areas square millimetres.
type Part struct {
	Wire, Contact      string  // designations, free text
	ConductorArea      float64 // metal of all strands
	NominalArea        float64 // the size that the wire is sold by, which is not its metal area
	StrandCount        float64
	StrandDiameter     float64
	InsulationDiameter float64
	SheetThickness     float64
}

// Limit is the tolerance of one measurand, in the measurand's own unit (mm, mm2, deg or 1; elsewhere also N,
// mohm and N m). At least one of Min and Max is
// there. Weight is positive, 1 where the file states none; it and Aim touch the score only, never the decision.
type Limit struct {
	Key           record.Key
	Min, Max, Aim *float64
	Weight        float64
	Note          string // where the limit comes from
}

// Declared is what the file says of the part, for the measuring library. The nominal area stays out: it is no metal
// area.
func (f File) Declared() record.Declared {
	return record.Declared{
		ConductorArea:      f.Part.ConductorArea,
		StrandCount:        f.Part.StrandCount,
		StrandDiameter:     f.Part.StrandDiameter,
		InsulationDiameter: f.Part.InsulationDiameter,
		SheetThickness:     f.Part.SheetThickness,
	}
}

// Load reads and checks the file at path. A wrong file gives an *Error.
func Load(path string) (File, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return File{}, fmt.Errorf("tolerances file %q does not exist: check the path, or make a file with 'crimprule tolerances example'", path)
	case err != nil:
		return File{}, fmt.Errorf("tolerances file %q cannot be opened: %w", path, err)
	case info.IsDir():
		return File{}, fmt.Errorf("tolerances file %q is a folder: name the file in it", path)
	case info.Size() > maxBytes:
		return File{}, tooLarge(path, info.Size())
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return File{}, fmt.Errorf("tolerances file %q cannot be read: %w", path, err)
	}
	return Parse(path, data)
}
