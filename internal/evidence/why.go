package evidence

import (
	"slices"
	"strings"

	"crimprule/internal/site"
	"crimprule/internal/verdict"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Why says in a line why a crimp is what it is: the feature that decided with its value and limits, why nothing was
// measured, the doubt that keeps it from being proven, or that there are no limits for a view. It is fit to be printed;
// the list of the evidence says the same. It is empty where there is nothing to say.
func Why(c site.Crimp) string {
	worst, _ := why(c, judgedOf(c))
	return worst
}

// why gives the reason and, where a feature decided, what that means. A picture that came to nothing decides where no
// feature does.
func why(c site.Crimp, judged []judgement) (worst, means string) {
	decided := len(judged) > 0 && judged[0].feature.Result == c.Result
	switch nothing := unusable(c); {
	case c.Result == record.NotProven && !decided && len(c.Doubts) > 0:
		return wording.Clean(c.Doubts[0]), ""
	case nothing != "" && (len(judged) == 0 || c.Result == record.NotMeasured && !decided):
		return nothing, ""
	case c.Result == "":
		return withoutLimits(c), ""
	case len(judged) == 0:
		return "", ""
	}
	return judged[0].text(), judged[0].means()
}

// withoutLimits names the views and the values measured elsewhere of a crimp that there were no limits for.
func withoutLimits(c site.Crimp) string {
	var views []string
	for _, p := range c.Pictures {
		if p.Usable() && p.Record.Verdict == nil && !slices.Contains(views, wording.View(p.Record.View)) {
			views = append(views, wording.View(p.Record.View))
		}
	}
	for i, e := range c.Elsewhere {
		name := wording.Name("", e.Key) + " measured elsewhere"
		if _, judged := verdict.ElsewhereFeature(c.ElsewhereVerdict, c.Elsewhere, i); !judged && e.NotJudged() == "" && !slices.Contains(views, name) {
			views = append(views, name)
		}
	}
	if len(views) == 0 {
		return ""
	}
	return "no limits for the " + strings.Join(views, " and the ")
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
			all = append(all, judgement{elsewhere, f})
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
	text := wording.Name(j.view, j.feature.Key) + " " + shown(featureValue(j.feature)) + " (" + limitsText(j.feature) + ")"
	if j.view == elsewhere {
		text += ", measured elsewhere"
	}
	return text
}

// means is the first sentence of what a feature that was measured and found wanting means.
func (j judgement) means() string {
	if j.feature.Advice == nil || j.feature.Value == nil {
		return ""
	}
	first, _, _ := strings.Cut(j.feature.Advice.Means, ". ")
	return strings.TrimRight(first, ".")
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
