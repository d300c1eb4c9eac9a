package tolerance

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// What can be declared of a part, in the file and on the command line. The ranges take in everything that is crimped,
// from the finest signal wire to the thickest power cable, and shut out slips of the unit or the decimal point.
var partSpans = map[string]span{
	"conductor_area":      {area, 0.01, 1000, false},
	"nominal_area":        {area, 0.01, 1000, false},
	"strand_count":        {count, 1, 10000, true},
	"strand_diameter":     {length, 0.02, 10, false},
	"insulation_diameter": {length, 0.2, 100, false},
	"sheet_thickness":     {length, 0.02, 10, false},
}

// anyNumber is for what has bounds of its own, which say more than a range.
var anyNumber = span{pure, -math.MaxFloat64, math.MaxFloat64, false}

// file reads the whole document.
func (r *reader) file(body ast.Node) File {
	file := File{Confidence: DefaultConfidence}
	var limits, part, others ast.Node
	ok := r.fields(body, "the tolerances file", []field{
		{"name", r.text(&file.Name)},
		{"view", r.view(&file.View)},
		{"confidence", r.confidence(&file.Confidence)},
		{"part", func(_, value ast.Node) { part = value }},
		{"limits", func(_, value ast.Node) { limits = value }},
		{"elsewhere", func(_, value ast.Node) { others = value }},
	})
	if part != nil {
		r.part(part, &file.Part)
	}
	if others != nil {
		file.Elsewhere = r.elsewhere(others)
	}
	switch {
	case limits != nil:
		file.Limits = r.limits(limits, file.View)
	case ok:
		r.at(body, "there is no 'limits' in the file",
			"write 'limits:' and under it, indented, what is to be judged; 'crimprule tolerances example' shows how")
	}
	return file
}

func (r *reader) confidence(to *float64) func(key, value ast.Node) {
	return func(key, value ast.Node) {
		c := math.NaN()
		r.quantity(anyNumber, &c)(key, value)
		switch {
		case math.IsNaN(c): // complained of already
		case c <= 0.5 || c >= 1:
			r.at(value, fmt.Sprintf("confidence %s is not over 0.5 and under 1", short(c)),
				"write the probability that a decision needs, usually 0.95")
		default:
			*to = c
		}
	}
}

// part reads the wire and the contact, and compares the areas with the strands: a slip there would spoil compaction
// and void without anyone's noticing.
func (r *reader) part(node ast.Node, part *Part) {
	var metal, nominal ast.Node
	keep := func(at *ast.Node, read func(key, value ast.Node)) func(key, value ast.Node) {
		return func(key, value ast.Node) { *at = value; read(key, value) }
	}
	number := func(name string, to *float64) func(key, value ast.Node) { return r.quantity(partSpans[name], to) }
	r.fields(node, "part", []field{
		{"wire", r.text(&part.Wire)},
		{"contact", r.text(&part.Contact)},
		{"conductor_area", keep(&metal, number("conductor_area", &part.ConductorArea))},
		{"nominal_area", keep(&nominal, number("nominal_area", &part.NominalArea))},
		{"strand_count", number("strand_count", &part.StrandCount)},
		{"strand_diameter", number("strand_diameter", &part.StrandDiameter)},
		{"insulation_diameter", number("insulation_diameter", &part.InsulationDiameter)},
		{"sheet_thickness", number("sheet_thickness", &part.SheetThickness)},
	})
	strands := part.StrandCount * math.Pi / 4 * part.StrandDiameter * part.StrandDiameter
	if strands == 0 {
		return
	}
	// Real metal lies up to 15 % below the nominal size; twice that, either way, is a slip.
	for _, a := range []struct {
		node ast.Node
		area float64
	}{{metal, part.ConductorArea}, {nominal, part.NominalArea}} {
		if a.area != 0 && math.Abs(strands/a.area-1) > 0.3 {
			r.at(a.node, fmt.Sprintf("%s mm2 does not go with the strands: %s of %s mm have %.3g mm2",
				short(a.area), short(part.StrandCount), short(part.StrandDiameter), strands),
				"put right the area, strand_count or strand_diameter")
		}
	}
}

// limits reads the map from measurand to limit.
func (r *reader) limits(node ast.Node, view record.View) []Limit {
	entries, ok := r.entries(node, "limits")
	if ok && len(entries) == 0 {
		r.at(node, "limits is empty", "write at least one measurand with its min or max under it")
	}
	limits, common := []Limit{}, measuredViews()
	for _, e := range entries {
		name := e.Key.GetToken().Value
		key := record.Key(name)
		views := viewsOf(key)
		switch {
		case len(views) == 0 && elsewhere.Known(key):
			r.at(e.Key, name+" is not measured in pictures", "move it to a group 'elsewhere:', which holds the limits of what other instruments measure")
			continue
		case len(views) == 0:
			r.at(e.Key, fmt.Sprintf("%q is no measurand of this version", name), measurandHint(name, view))
			continue
		case view != "" && !slices.Contains(views, view):
			r.at(e.Key, fmt.Sprintf("%s is not measured in the view %s that this file is for, but in %s", name, view, joined(views)),
				"take it out, or put it into a file for that view\n"+measurandHint(name, view))
		case view == "":
			common = r.shared(e.Key, views, common)
		}
		limits = append(limits, r.limit(key, e.Key, e.Value))
	}
	return limits
}

// shared narrows the views in which all limits of a file without a view are measured. Where none is left, no picture
// could ever conform.
func (r *reader) shared(node ast.Node, views, common []record.View) []record.View {
	both := slices.DeleteFunc(slices.Clone(common), func(v record.View) bool { return !slices.Contains(views, v) })
	if len(both) > 0 {
		return both
	}
	r.at(node, fmt.Sprintf("%s is measured in the view %s only, and the limits above it in %s only",
		node.GetToken().Value, joined(views), joined(common)),
		"no picture could ever conform: make one file for each view, and name it in 'view:'")
	return common
}

func joined(views []record.View) string {
	names := make([]string, len(views))
	for i, v := range views {
		names[i] = string(v)
	}
	if last := len(names) - 1; last > 0 {
		return strings.Join(names[:last], ", ") + " or " + names[last]
	}
	return strings.Join(names, "")
}

// bound is a value of a limit and where it stands, nil where the file has none.
type bound struct {
	name  string
	value *float64
	node  ast.Node
}

func (r *reader) limit(key record.Key, keyNode, node ast.Node) Limit {
	limit := Limit{Key: key, Weight: 1}
	low, high, aim := bound{name: "min"}, bound{name: "max"}, bound{name: "aim"}
	bounded := false // min or max was written, be it wrongly
	read := func(b *bound) func(key, value ast.Node) {
		return func(k, value ast.Node) {
			bounded = bounded || b != &aim
			v := math.NaN()
			r.quantity(possible(key), &v)(k, value)
			if !math.IsNaN(v) {
				b.value, b.node = &v, value
			}
		}
	}
	ok := r.fields(node, string(key), []field{
		{"min", read(&low)},
		{"max", read(&high)},
		{"aim", read(&aim)},
		{"weight", r.weight(&limit.Weight)},
		{"note", r.text(&limit.Note)},
	})
	switch {
	case ok && !bounded:
		r.at(keyNode, fmt.Sprintf("%s has neither min nor max", key), "write one of the two or both, or take the measurand out")
	case ok:
		r.consistent(key, low, high, aim)
	}
	limit.Min, limit.Max, limit.Aim = low.value, high.value, aim.value
	return limit
}

// consistent compares the bounds of one limit with each other and with what the measurand can be at best.
func (r *reader) consistent(key record.Key, low, high, aim bound) {
	show := func(b bound) string { return b.name + " " + inUnit(*b.value, possible(key).dim) }
	if low.value != nil && high.value != nil && *low.value > *high.value {
		r.at(low.node, fmt.Sprintf("%s is above %s", show(low), show(high)), "nothing could ever conform: exchange them, or put one right")
		return
	}
	best, has := perfect(key)
	for _, b := range []bound{low, high} {
		if b.value == nil {
			continue
		}
		outside := func(v float64) bool { return b.name == "min" && v < *b.value || b.name == "max" && v > *b.value }
		if aim.value != nil && outside(*aim.value) {
			r.at(aim.node, fmt.Sprintf("%s lies outside %s", show(aim), show(b)), "the aim must lie within the limits")
		}
		if has && outside(best) {
			r.at(b.node, fmt.Sprintf("%s shuts out the best %s that there is, %s", show(b), key, short(best)),
				"write the other one of min and max instead, or take this one out")
		}
	}
}

func (r *reader) weight(to *float64) func(key, value ast.Node) {
	return func(key, value ast.Node) {
		w := 1.0
		r.quantity(anyNumber, &w)(key, value)
		if w < 0.001 || w > 1000 {
			r.at(value, fmt.Sprintf("weight %s is not between 0.001 and 1000", short(w)),
				"write how much this feature counts in the score: 1 is usual, 2 is twice as much")
			return
		}
		*to = w
	}
}
