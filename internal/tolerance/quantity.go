package tolerance

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// fault is what is wrong with a piece of text, and what to do.
type fault struct{ message, hint string }

// dimension is a kind of quantity: the units in which it may be written, each as a power of ten of the first.
type dimension struct {
	name    string
	units   []unit
	example string
}

type unit struct {
	name  string
	power int
}

// The micro sign exists twice in Unicode (U+00B5 and U+03BC), the ohm sign too (U+03A9 and U+2126); keyboards give either.
var (
	length = dimension{"a length", []unit{{"mm", 0}, {"um", -3}, {"µm", -3}, {"μm", -3}}, "0.3 mm"}
	area   = dimension{"an area", []unit{{"mm2", 0}, {"mm²", 0}}, "4 mm2"}
	angle  = dimension{"an angle", []unit{{"deg", 0}, {"°", 0}}, "3 deg"}
	pure   = dimension{"a pure number", []unit{{"", 0}}, "0.9"}
	count  = dimension{"a count", []unit{{"", 0}}, "56"}
	pixel  = dimension{"a length per pixel", []unit{{"mm/px", 0}, {"um/px", -3}, {"µm/px", -3}, {"μm/px", -3}}, "2.05um/px"}

	force      = dimension{"a force", []unit{{"N", 0}, {"kN", 3}}, "310 N"}
	resistance = dimension{"a resistance", []unit{{"mohm", 0}, {"mΩ", 0}, {"m\u2126", 0}, {"uohm", -3}, {"µohm", -3}, {"μohm", -3}, {"µΩ", -3}, {"μΩ", -3}, {"µ\u2126", -3}, {"μ\u2126", -3}, {"uΩ", -3}, {"u\u2126", -3}, {"ohm", 3}, {"Ω", 3}, {"\u2126", 3}}, "0.5 mohm"}
	torque     = dimension{"a torque", []unit{{"N m", 0}, {"Nm", 0}, {"N cm", -2}, {"Ncm", -2}, {"N mm", -3}, {"Nmm", -3}}, "2.5 N m"}
)

// lookAlikes turns the second one of two characters that look alike into the first.
var lookAlikes = strings.NewReplacer("μ", "µ", "\u2126", "Ω")

// spelt is a number as it may be written, then whatever follows it as the unit.
var spelt = regexp.MustCompile(`^([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*(.*)$`)

// commaNumber is a number with a decimal comma, the likeliest slip in half of Europe.
var commaNumber = regexp.MustCompile(`^[+-]?[0-9]+,[0-9]+`)

// thousands is a number whose comma may stand between thousands.
var thousands = regexp.MustCompile(`^[+-]?[1-9][0-9]{0,2},[0-9]{3}(?:[^0-9]|$)`)

// parse reads a number with its unit and returns it in the first unit of the dimension.
func (d dimension) parse(text string) (float64, *fault) {
	text = strings.TrimSpace(text)
	if comma := commaNumber.FindString(text); comma != "" {
		point := strings.Replace(text, ",", ".", 1)
		if thousands.MatchString(text) {
			return 0, &fault{fmt.Sprintf("%q has a comma that may part thousands or decimals", text),
				"write " + strings.Replace(text, ",", "", 1) + " or " + point + ", whichever is meant"}
		}
		return 0, &fault{fmt.Sprintf("%q has a decimal comma", text), "write a decimal point: " + point}
	}
	parts := spelt.FindStringSubmatch(text)
	if parts == nil {
		return 0, &fault{fmt.Sprintf("%q is no number", text), "write " + d.name + ", such as " + d.example}
	}
	value, err := strconv.ParseFloat(parts[1], 64)
	if err != nil || math.IsInf(value, 0) {
		return 0, &fault{fmt.Sprintf("%q is larger than any number that can be used here", text), "write " + d.name + ", such as " + d.example}
	}
	for _, u := range d.units {
		if parts[2] == u.name {
			return scaled(parts[1], u.power), nil
		}
	}
	return 0, d.wrongUnit(parts[1], parts[2])
}

// scaled is a spelt number times a power of ten, rounded once: 2.05 um is 0.00205 mm, as if it had been written so.
func scaled(number string, power int) float64 {
	mantissa, exponent := scientific(number)
	value, _ := strconv.ParseFloat(fmt.Sprintf("%se%d", mantissa, exponent+power), 64)
	return value
}

// scientific takes a spelt number apart.
func scientific(number string) (mantissa string, exponent int) {
	const beyond = 9999 // any number is zero or infinite long before
	mantissa, text, _ := strings.Cut(strings.ToLower(number), "e")
	exponent, _ = strconv.Atoi(text) // 0 where there is none, the nearest int where it is too large for one
	return mantissa, min(max(exponent, -beyond), beyond)
}

// halfDigit is half a step of the last digit written in a text that parse accepts, in the dimension's first unit.
func (d dimension) halfDigit(text string) float64 {
	parts := spelt.FindStringSubmatch(strings.TrimSpace(text))
	for _, u := range d.units {
		if parts != nil && parts[2] == u.name {
			mantissa, exponent := scientific(parts[1])
			_, decimals, _ := strings.Cut(mantissa, ".")
			return scaled("0.5", exponent+u.power-len(decimals))
		}
	}
	return 0
}

func (d dimension) wrongUnit(number, written string) *fault {
	want := d.units[0].name
	switch {
	case written == "":
		return &fault{fmt.Sprintf("%q lacks its unit", number), fmt.Sprintf("%s is written with its unit: %s %s", d.name, number, want)}
	case want == "" && written == "%":
		return &fault{fmt.Sprintf("%q is a percentage", number+" "+written), "write the ratio itself: 0.9 for 90 %"}
	case want == "":
		return &fault{fmt.Sprintf("unit %q does not belong here", written), d.name + " is written without a unit: " + number}
	}
	names := []string{}
	for _, u := range d.units {
		if name := lookAlikes.Replace(u.name); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return &fault{
		fmt.Sprintf("%q is no unit of %s", written, d.name),
		fmt.Sprintf("write %s in one of: %s", d.name, strings.Join(names, ", ")),
	}
}

// span is a range of possible values, ends included.
type span struct {
	dim       dimension
	low, high float64
	whole     bool
}

// parse reads a quantity that must lie in the span.
func (s span) parse(text string) (float64, *fault) {
	value, f := s.dim.parse(text)
	switch {
	case f != nil:
		return 0, f
	case value < s.low || value > s.high:
		return 0, &fault{fmt.Sprintf("%q is impossible here", strings.TrimSpace(text)), "it must lie " + s.String()}
	case s.whole && value != math.Trunc(value):
		return 0, &fault{fmt.Sprintf("%q is no whole number", strings.TrimSpace(text)), "counts are whole: write 0, 1, 2 ..."}
	}
	return value, nil
}

// String says the span in words, with its unit.
func (s span) String() string {
	return fmt.Sprintf("between %s and %s", short(s.low), inUnit(s.high, s.dim))
}

// inUnit prints a value in the first unit of its dimension.
func inUnit(v float64, d dimension) string {
	return strings.TrimSpace(short(v) + " " + d.units[0].name)
}

// short prints a number with as few digits as tell it.
func short(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
