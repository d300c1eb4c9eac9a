package tolerance

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/vision/record"
)

// Declaration is one thing that the user says of the part on the command line. Value is in mm, mm² or 1.
type Declaration struct {
	Key   string
	Value float64
}

// declarable are the keys of --declare, in the order in which a person reads them.
var declarable = []string{"conductor_area", "strand_count", "strand_diameter", "insulation_diameter", "sheet_thickness"}

// ParseDeclare reads KEY=VALUE, such as strand_count=56, strand_diameter=0.3mm or conductor_area=4mm2. The error
// quotes the text and says what is allowed.
func ParseDeclare(text string) (Declaration, error) {
	key, value, f := keyValue(text, declarable, "strand_diameter=0.3mm")
	if f == nil {
		var number float64
		if number, f = partSpans[key].parse(value); f == nil {
			return Declaration{Key: key, Value: number}, nil
		}
	}
	return Declaration{}, f.quoting(text)
}

// Apply writes the declaration into what is known of the part, over what the tolerances file said.
func (d Declaration) Apply(to *record.Declared) {
	switch d.Key {
	case "conductor_area":
		to.ConductorArea = d.Value
	case "strand_count":
		to.StrandCount = d.Value
	case "strand_diameter":
		to.StrandDiameter = d.Value
	case "insulation_diameter":
		to.InsulationDiameter = d.Value
	case "sheet_thickness":
		to.SheetThickness = d.Value
	}
}

// Scale is a scale reference as declared on the command line: its kind, and its length in Unit, "mm" or (kind known)
// "mm/px". HalfDigit is half a step of the last digit that was written, in Unit too: 2.05um/px may stand for anything
// from 2.045 to 2.055.
type Scale struct {
	Kind      string
	Value     float64
	HalfDigit float64
	Unit      string
}

var (
	scaleKinds = []string{"chessboard", "rule", "disc", "bar", "known"}
	scaleSpans = map[string]span{
		"chessboard": {length, 0.1, 200, false},  // side of a square
		"rule":       {length, 0.05, 100, false}, // distance of two graduations
		"disc":       {length, 0.1, 500, false},  // diameter
		"bar":        {length, 1e-4, 500, false}, // length of the drawn bar
		"known":      {pixel, 1e-6, 10, false},
	}
	scaleExamples = map[string]string{
		"chessboard": "chessboard=5mm", "rule": "rule=1mm", "disc": "disc=20mm", "bar": "bar=500um", "known": "known=2.05um/px",
	}
)

// ParseScale reads KIND=VALUE: chessboard=5mm, rule=1mm, disc=20mm, bar=500um or known=2.05um/px. The error quotes the
// text and says what is allowed. Whether this version can measure by a kind is for the caller to say.
func ParseScale(text string) (Scale, error) {
	kind, value, f := keyValue(text, scaleKinds, "chessboard=5mm")
	if f == nil {
		s := scaleSpans[kind]
		var number float64
		if number, f = s.parse(value); f == nil {
			return Scale{Kind: kind, Value: number, HalfDigit: s.dim.halfDigit(value), Unit: s.dim.units[0].name}, nil
		}
		f.hint += ", for example " + scaleExamples[kind]
	}
	return Scale{}, f.quoting(text)
}

// keyValue takes KEY=VALUE apart; the key must be one of names.
func keyValue(text string, names []string, example string) (key, value string, f *fault) {
	key, value, found := strings.Cut(text, "=")
	key, value = strings.TrimSpace(key), strings.TrimSpace(value)
	switch {
	case !found:
		return "", "", &fault{"there is no '=' in it", "write a name, '=' and a value, for example " + example}
	case !slices.Contains(names, key):
		return "", "", &fault{fmt.Sprintf("unknown name %q", key), Allowed(key, names)}
	case value == "":
		return "", "", &fault{"nothing stands after the '='", "write a value there, for example " + example}
	}
	return key, value, nil
}

// quoting makes an error of one line out of a fault.
func (f *fault) quoting(text string) error {
	const longest = 80
	if runes := []rune(text); len(runes) > longest {
		text = string(runes[:longest]) + "..."
	}
	return fmt.Errorf("%q: %s; %s", text, f.message, strings.ReplaceAll(f.hint, "\n", " "))
}
