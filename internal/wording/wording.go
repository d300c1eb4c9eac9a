// Package wording turns keys, numbers and results into what a person reads, the same at the terminal and in pictures:
// names of the trade for measurands, values rounded to what their uncertainty allows, and limits. It is pure Go.
package wording

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"crimprule/internal/advice"
	"crimprule/vision/record"
)

// Group is a set of measurands that a person reads together.
type Group struct {
	Title string
	Keys  []record.Key
}

var seamGroups = []Group{
	{"Wire end", []record.Key{record.InsulationGapMean, record.InsulationGapMax}},
	{"Brush", []record.Key{record.BrushMean, record.BrushMax, record.BrushMin}},
	{"Stray strands", []record.Key{record.StrayCount, record.StrayLongest}},
	{"Wings and seam", []record.Key{record.WingWidthLeft, record.WingWidthRight, record.Symmetry, record.SeamOffset,
		record.SeamAngle, record.SeamOpeningMax}},
	{"Missing pieces", []record.Key{record.CompletenessLeft, record.CompletenessRight, record.MissingLengthMax,
		record.MissingDepthMax}},
	{"Sleeve", []record.Key{record.SleeveLength, record.SleeveWidth, record.BellmouthLength, record.BellmouthFlare,
		record.Bend}},
}

var stripGroups = []Group{
	{"Stripping", []record.Key{record.StripLength, record.InsulationCutAngle}},
	{"Strand ends", []record.Key{record.StrandEndSpread, record.CutStrands, record.Splay}},
}

var sectionGroups = []Group{
	{"Crimp", []record.Key{record.CrimpHeight, record.CrimpWidth, record.Symmetry}},
	{"Floor and burrs", []record.Key{record.FloorThickness, record.BurrHeightLeft, record.BurrHeightRight, record.BurrWidthLeft,
		record.BurrWidthRight}},
	{"Wings", []record.Key{record.WingTipFloorLeft, record.WingTipFloorRight, record.WingTipHeightDifference, record.WingOpening}},
	{"Strands and voids", []record.Key{record.StrandCount, record.ConductorArea, record.VoidRatio, record.Compaction}},
}

// Groups lists the measurands of a picture of this view by what they tell of, in reading order. Keys without a group
// (of another view) follow in a last group, so that nothing measured is ever left out.
func Groups(view record.View, present []record.Key) []Group {
	groups := seamGroups // the side view has some of them
	switch view {
	case record.Strip:
		groups = stripGroups
	case record.Section:
		groups = sectionGroups
	}
	var result []Group
	rest := slices.Clone(present)
	for _, g := range groups {
		var keys []record.Key
		for _, k := range g.Keys {
			if i := slices.Index(rest, k); i >= 0 {
				keys = append(keys, k)
				rest = slices.Delete(rest, i, i+1)
			}
		}
		if len(keys) > 0 {
			result = append(result, Group{g.Title, keys})
		}
	}
	if len(rest) > 0 {
		slices.Sort(rest)
		result = append(result, Group{"Other", rest})
	}
	return result
}

// Name is what a person calls the measurand in a view, the same word as in the advice; a key without a name reads as
// itself, with spaces.
func Name(view record.View, key record.Key) string {
	return strings.ReplaceAll(advice.Name(view, key), "_", " ")
}

// View says which view a picture shows; where the pictures were to tell and this one did not, that.
func View(view record.View) string {
	switch view {
	case record.Section:
		return "section"
	case record.Auto:
		return "view not told"
	}
	return Clean(string(view)) + " view"
}

// Result names an outcome. The one that calls for action is in capitals, so that it stands out without colour.
func Result(r record.Result) string {
	switch r {
	case record.Conforms:
		return "conforms"
	case record.DoesNotConform:
		return "DOES NOT CONFORM"
	case record.NotProven:
		return "not proven"
	case record.NotMeasured:
		return "not measured"
	}
	return string(r)
}

// Unit is the unit as it is printed behind a number; ratios and counts have none.
func Unit(unit string) string {
	switch unit {
	case "1":
		return ""
	case "deg":
		return "°"
	case "mm2":
		return "mm²"
	case "mohm":
		return "mΩ"
	}
	return unit
}

// Number rounds a value as its expanded uncertainty allows: u to two significant digits, the value to the same
// decimals (JCGM 100:2008, 7.2.6). Where u is 0, as for a sure count, the value has as many decimals as it needs, three
// at the most, and a whole number with a whole u, as a doubtful count has, needs none. A value that rounds to zero
// carries no sign.
func Number(value, u float64) (valueText, uText string) {
	whole := value == math.Trunc(value) && u == math.Trunc(u)
	if whole || u <= 0 || math.IsNaN(u) || math.IsInf(u, 0) {
		return plain(value), plain(math.Max(u, 0))
	}
	decimals := twoDigits(u)
	// 0.0996 rounds up to 0.10, which has two digits with a decimal less.
	if rounded, err := strconv.ParseFloat(strconv.FormatFloat(u, 'f', decimals, 64), 64); err == nil && rounded > 0 {
		decimals = min(decimals, twoDigits(rounded))
	}
	return unsigned(strconv.FormatFloat(value, 'f', decimals, 64)), strconv.FormatFloat(u, 'f', decimals, 64)
}

// Small writes a standard uncertainty with as many decimals as show three significant digits of the largest one that it
// stands beside, so that those below each other line up.
func Small(standard, largest float64) string {
	decimals := 3
	if largest > 0 && !math.IsInf(largest, 0) {
		decimals = min(twoDigits(largest)+1, 7)
	}
	return strconv.FormatFloat(standard, 'f', decimals, 64)
}

// Percent writes a share, 0..1, in whole per cent; one that is there never reads as none.
func Percent(share float64) string {
	if share > 0 && share < 0.005 {
		return "<1 %"
	}
	return strconv.FormatFloat(100*share, 'f', 0, 64) + " %"
}

// twoDigits is the number of decimals that shows two significant digits of u, and none for large ones. A u below a
// millionth of the unit shows six decimals: more would say nothing of a crimp.
func twoDigits(u float64) int {
	return min(max(0, 1-int(math.Floor(math.Log10(u)+1e-9))), 6)
}

func plain(value float64) string {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return fmt.Sprint(value)
	}
	text := strconv.FormatFloat(value, 'f', 3, 64)
	return unsigned(strings.TrimRight(strings.TrimRight(text, "0"), "."))
}

// unsigned takes the sign from a zero.
func unsigned(text string) string {
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// Quantity writes a value with its uncertainty and unit in one piece: "0.82 ± 0.04 mm". An exact value stands alone.
func Quantity(v record.Value) string {
	value, u := Number(v.Value, v.U)
	unit := Unit(v.Unit)
	if unit != "" && unit != "°" {
		unit = " " + unit
	}
	if v.U <= 0 {
		return value + unit
	}
	if unit == "°" {
		return "(" + value + " ± " + u + ")°"
	}
	return value + " ± " + u + unit
}

// Limits writes what a feature is held against: "at most 1", "at least 0.9", "1 to 3", "exactly 56"; empty where there is none. The
// numbers stand as the user wrote them.
func Limits(lower, upper *float64) string {
	switch {
	case lower != nil && upper != nil && *lower == *upper:
		return "exactly " + exact(*lower)
	case lower != nil && upper != nil:
		return exact(*lower) + " to " + exact(*upper)
	case lower != nil:
		return "at least " + exact(*lower)
	case upper != nil:
		return "at most " + exact(*upper)
	}
	return ""
}

func exact(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Clean makes text from outside (a file's name, a camera's name, a note) safe to print: control characters, which
// could steer a terminal, become visible, and so do bytes that are no UTF-8.
func Clean(text string) string {
	quoted := strconv.QuoteToGraphic(text)
	inner := quoted[1 : len(quoted)-1]
	return unescaped.Replace(inner)
}

var unescaped = strings.NewReplacer(`\"`, `"`, `\\`, `\`)

// Cell makes text from outside fit for a cell of a spreadsheet: it is cleaned, and text that begins like a formula is led
// by an apostrophe, which shows it as the text that it is.
func Cell(text string) string {
	text = Clean(text)
	if text != "" && strings.ContainsRune("=+-@\t\r＝＋－＠", []rune(text)[0]) {
		return "'" + text
	}
	return text
}
