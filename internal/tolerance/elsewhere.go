package tolerance

import (
	"fmt"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// elsewhereSpans are the ranges in which limits and values of what no picture yields can make sense, from the finest
// signal contact to the thickest cable lug.
var elsewhereSpans = map[record.Key]span{
	elsewhere.PullOutForce:      {force, 0, 100000, false},
	elsewhere.ContactResistance: {resistance, 0, 1000, false},
	elsewhere.Torque:            {torque, 0, 1000, false},
}

// usual are the ranges in which measured values lie, from signal contacts to cable lugs: what lies outside is a slip of the
// unit or of the decimal point. Common practice, no source. Limits may lie outside.
var usual = map[record.Key]span{
	record.CrimpHeight:          {length, 0.2, 30, false},
	record.CrimpWidth:           {length, 0.2, 30, false},
	elsewhere.PullOutForce:      {force, 1, 20000, false},
	elsewhere.ContactResistance: {resistance, 0.001, 100, false},
	elsewhere.Torque:            {torque, 0.01, 100, false},
}

// elsewhere reads the limits of values that were measured with other instruments. The group may be left out.
func (r *reader) elsewhere(node ast.Node) []Limit {
	entries, ok := r.entries(node, "elsewhere")
	if ok && len(entries) == 0 {
		r.at(node, "elsewhere is empty", "write at least one of its keys with min or max under it, or take 'elsewhere:' out")
	}
	var limits []Limit
	for _, e := range entries {
		name := e.Key.GetToken().Value
		key := record.Key(name)
		switch {
		case elsewhere.Known(key):
			limits = append(limits, r.limit(key, e.Key, e.Value))
		case len(viewsOf(key)) > 0:
			r.at(e.Key, name+" is measured in pictures", "move it to the group 'limits:'\n"+Allowed("", elsewhereNames()))
		default:
			r.at(e.Key, fmt.Sprintf("%q is nothing that is entered from elsewhere in this version", name), Allowed(name, elsewhereNames()))
		}
	}
	return limits
}

func elsewhereNames() []string {
	var names []string
	for _, key := range elsewhere.Keys() {
		names = append(names, string(key))
	}
	return names
}

// ParseElsewhere reads a value that was measured elsewhere: which (pull_out_force), how much with its unit (324 N), and its
// expanded uncertainty (k = 2) with its unit, which the certificate or the data sheet of the instrument tells. The error
// quotes the text and says what is allowed.
func ParseElsewhere(key, value, u string) (record.Key, record.Value, error) {
	key = strings.TrimSpace(key)
	k := record.Key(key)
	if !elsewhere.Known(k) {
		f := fault{fmt.Sprintf("unknown name %q", key), Allowed(key, elsewhereNames())}
		return "", record.Value{}, f.quoting(key)
	}
	s := possible(k)
	v, f := s.parse(value)
	if f != nil {
		f.hint += ", for example " + s.dim.example
		return "", record.Value{}, f.quoting(key + " = " + value)
	}
	if strings.TrimSpace(u) == "" {
		f = &fault{"its uncertainty is missing", "write the expanded uncertainty (k = 2) that the instrument's certificate or data sheet tells, with its unit"}
		return "", record.Value{}, f.quoting(key + " = " + value)
	}
	expanded, f := span{s.dim, 0, s.high, false}.parse(u)
	if f == nil && expanded == 0 {
		f = &fault{"an uncertainty of 0 is none", "write the expanded uncertainty (k = 2) that the instrument's certificate or data sheet tells"}
	}
	if f != nil {
		return "", record.Value{}, f.quoting("uncertainty of " + key + " = " + u)
	}
	if f := slip(usual[k], v, expanded, value, u); f != nil {
		return "", record.Value{}, f.quoting(key + " = " + value)
	}
	return k, record.Value{Value: v, U: expanded, Unit: elsewhere.Unit(k)}, nil
}

// slip finds values that nobody measures, and values that may be nothing as well as twice as much.
func slip(s span, v, expanded float64, value, u string) *fault {
	const check = "check the unit and the decimal point"
	value, u = strings.TrimSpace(value), strings.TrimSpace(u)
	switch {
	case v < s.low || v > s.high:
		return &fault{fmt.Sprintf("%q is %s, and crimps have values %s", value, inUnit(v, s.dim), s), check + " of the value"}
	case expanded >= v:
		return &fault{fmt.Sprintf("its uncertainty %q is not smaller than the value itself", u), check + " of both"}
	}
	return nil
}
