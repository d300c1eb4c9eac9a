package evidence

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// kind is what the pictures of a crimp show, since what is to be done differs.
type kind int

const (
	madeCrimp   kind = iota // a crimp in a photo, or nothing is known
	cutSection              // a section only: the crimp is spent
	strippedEnd             // a stripped end only: no crimp yet
)

// row is the light part of a crimp: what the list, the counts and the PDF show. All text is fit to be printed.
type row struct {
	Number                            int
	Name, String, Crew, Tool, Trainee string
	Result                            record.Result // empty: not judged
	Score                             string        // empty where there is none
	Thumb                             string        // path in the evidence
	Worst                             string        // the feature that decided, with its value and limits
	Do                                string        // what to do, in short
	Means                             string        // what the worst feature means, in a sentence; empty where nothing is wrong
	Values                            []fact        // values by name, the one that decided first
	Warnings                          int
	Kind                              kind
}

// newRow takes from a crimp what is kept of it.
func newRow(c site.Crimp) row {
	r := row{
		Number: c.Number, Name: wording.Clean(c.Name()), Result: c.Result, Kind: kindOf(c), Warnings: len(c.Warnings),
		String: wording.Clean(c.Label.String), Crew: wording.Clean(c.Label.Crew),
		Tool: wording.Clean(c.Label.Tool), Trainee: wording.Clean(c.Label.Trainee),
	}
	if c.Result != "" {
		r.Score = score(c.Score)
	}
	for _, p := range c.Pictures {
		if p.Thumb != "" && (r.Thumb == "" || p.Usable()) {
			r.Thumb = p.Thumb
			if p.Usable() {
				break
			}
		}
	}
	judged := judgedOf(c)
	if len(judged) > 0 {
		r.Worst, r.Means = judged[0].text(), judged[0].means()
	}
	// A picture that came to nothing decides where no feature does.
	if why := unusable(c); why != "" && (len(judged) == 0 || c.Result == record.NotMeasured && judged[0].feature.Result != record.NotMeasured) {
		r.Worst, r.Means = why, ""
	}
	r.Do = action(c.Result, r.Kind)
	for _, j := range judged {
		if j.feature.Value != nil {
			r.Values = append(r.Values, fact{wording.Name(j.view, j.feature.Key), shown(featureValue(j.feature))})
		}
	}
	if c.Result == "" {
		r.Values = unjudgedValues(c)
	}
	return r
}

func score(v float64) string { return fmt.Sprintf("%.1f", v) }

func kindOf(c site.Crimp) kind {
	section, strip := false, false
	for _, p := range c.Pictures {
		if p.Record == nil {
			continue
		}
		switch p.Record.View {
		case record.Section:
			section = true
		case record.Strip:
			strip = true
		case record.Seam, record.Side:
			return madeCrimp
		}
	}
	switch {
	case section:
		return cutSection
	case strip:
		return strippedEnd
	}
	return madeCrimp
}

// action is the advice in a few words.
func action(result record.Result, k kind) string {
	switch result {
	case record.DoesNotConform:
		return [...]string{"make anew with a new contact", "hold back what this set-up made", "cut off and strip anew"}[k]
	case record.NotProven:
		return [...]string{"take a closer picture, or make anew", "take a sharper picture, or cut another crimp",
			"take a closer picture, or strip anew"}[k]
	case record.NotMeasured:
		return "photograph again"
	case record.Conforms:
		return "nothing on these pictures"
	}
	return "give limits to judge it by"
}

// judgement is a feature with the view that it was judged in.
type judgement struct {
	view    record.View
	feature record.Feature
}

// judgedOf lists all judged features of a crimp, those that decided first: worst result first, then least score.
func judgedOf(c site.Crimp) []judgement {
	var all []judgement
	for _, p := range c.Pictures {
		if p.Record == nil || p.Record.Verdict == nil || p.Refused() {
			continue
		}
		for _, f := range p.Record.Verdict.Features {
			all = append(all, judgement{p.Record.View, f})
		}
	}
	if c.ElsewhereVerdict != nil {
		for _, f := range c.ElsewhereVerdict.Features {
			all = append(all, judgement{"", f})
		}
	}
	slices.SortStableFunc(all, func(a, b judgement) int {
		if d := rank(a.feature.Result, c.Result) - rank(b.feature.Result, c.Result); d != 0 {
			return d
		}
		sa, sb := scoreOf(a.feature), scoreOf(b.feature)
		switch {
		case sa < sb:
			return -1
		case sa > sb:
			return 1
		}
		return 0
	})
	return all
}

// rank puts the features first that gave the crimp its result.
func rank(feature, whole record.Result) int {
	if feature == whole {
		return -1
	}
	return slices.Index(order, feature)
}

func scoreOf(f record.Feature) float64 {
	if f.Score == nil {
		return 0
	}
	return *f.Score
}

// text is the feature with what it is held against: "largest gap 0.82 ± 0.04 mm (at most 0.5)".
func (j judgement) text() string {
	if j.feature.Value == nil {
		return strings.TrimSuffix(wording.Name(j.view, j.feature.Key)+": "+wording.Clean(j.feature.Reason), ": ")
	}
	return wording.Name(j.view, j.feature.Key) + " " + shown(featureValue(j.feature)) + " (" + limitsText(j.feature) + ")"
}

// means is the first sentence of what a feature that was measured and found wanting means.
func (j judgement) means() string {
	if j.feature.Advice == nil || j.feature.Value == nil {
		return ""
	}
	first, _, _ := strings.Cut(j.feature.Advice.Means, ". ")
	return strings.TrimRight(first, ".")
}

// Who names crew, tool and trainee, each with what it is where its name does not say so.
func (r row) Who() []string {
	var all []string
	for _, part := range []fact{{"crew", r.Crew}, {"tool", r.Tool}, {"trainee", r.Trainee}} {
		if part.Text != "" {
			all = append(all, called(part.Name, part.Text))
		}
	}
	return all
}

// called puts what a thing is before its name, where the name does not say so itself.
func called(what, name string) string {
	if strings.HasPrefix(strings.ToLower(name), what) {
		return name
	}
	return what + " " + name
}

// featureValue is the value that a feature was judged by; it has one.
func featureValue(f record.Feature) record.Value {
	v := record.Value{Unit: f.Unit}
	if f.Value != nil {
		v.Value = *f.Value
	}
	if f.U != nil {
		v.U = *f.U
	}
	return v
}

// limitsText is what a feature is held against, with its unit.
func limitsText(f record.Feature) string {
	text, unit := wording.Limits(f.Min, f.Max), wording.Unit(f.Unit)
	if unit == "" || unit == "°" {
		return text + unit
	}
	return text + " " + unit
}

// shown is a value as every output prints it.
func shown(v record.Value) string { return wording.Quantity(v) }

// unusable says why a picture of the crimp came to nothing that was not taken again; empty where there is none.
func unusable(c site.Crimp) string {
	for i, p := range c.Pictures {
		switch {
		case p.Usable() || c.Retaken(i):
		case p.Refused():
			return wording.Clean(p.Record.Retake[0])
		default:
			return wording.Clean(p.Failure)
		}
	}
	return ""
}

// unjudgedValues are the values of a crimp without limits, in reading order.
func unjudgedValues(c site.Crimp) []fact {
	var values []fact
	for _, p := range c.Pictures {
		if !p.Usable() {
			continue
		}
		for _, g := range wording.Groups(p.Record.View, measuredKeys(*p.Record)) {
			for _, key := range g.Keys {
				values = append(values, fact{wording.Name(p.Record.View, key), shown(p.Record.Measured[key])})
			}
		}
	}
	return values
}

// measuredKeys gives the keys of a record's values; map order must not show.
func measuredKeys(rec record.Record) []record.Key {
	keys := make([]record.Key, 0, len(rec.Measured))
	for key := range rec.Measured {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// unique gives the keys sorted, each once.
func unique(keys []record.Key) []record.Key {
	slices.Sort(keys)
	return slices.Compact(keys)
}
