package verdict

import (
	"fmt"

	"crimprule/internal/advice"
	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// JudgeElsewhere judges what was measured of a crimp with other instruments, by the same rule as Judge. Every value with a
// limit is judged, also where there are several of one kind: then each is a feature of its own, in the order of the
// values, and the worst counts, as everywhere. A limit without a value is not held against the crimp, since such tests are
// done on samples, nor is a value without a limit. Values that were withdrawn or set aside (site.Elsewhere.NotJudged) are
// left out; nil where nothing is left to judge.
func JudgeElsewhere(values []site.Elsewhere, file tolerance.File) *record.Verdict {
	if !(file.Confidence > 0.5 && file.Confidence < 1) {
		file.Confidence = tolerance.DefaultConfidence
	}
	v := record.Verdict{Tolerances: file.Name, Features: []record.Feature{}}
	grades := []grade{}
	for _, limit := range file.Elsewhere {
		for _, value := range values {
			if value.Key != limit.Key || value.NotJudged() != "" {
				continue
			}
			f := judgeElsewhere(value.Value, limit, file.Confidence)
			g := gradeOf(f, file.Confidence, limit.Weight)
			if f.Probability != nil {
				f.Score = rounded(score([]grade{g}), f.Result)
			}
			f.Advice = advice.ForElsewhere(f)
			v.Features, grades = append(v.Features, f), append(grades, g)
		}
	}
	if len(v.Features) == 0 {
		return nil
	}
	v.Result = worst(v.Features)
	v.Score = *rounded(score(grades), v.Result)
	return &v
}

// judgeElsewhere judges one value. A measurement has an uncertainty: a value that comes without one proves nothing.
func judgeElsewhere(value record.Value, limit tolerance.Limit, confidence float64) record.Feature {
	f := record.Feature{
		Key: limit.Key, Result: record.NotMeasured, Unit: elsewhere.Unit(limit.Key),
		Min: limit.Min, Max: limit.Max, Aim: limit.Aim, Note: limit.Note,
	}
	switch {
	case value.Unit != f.Unit:
		f.Reason = fmt.Sprintf("the value is in %q and its limit in %q", value.Unit, f.Unit)
	case !finite(value.Value) || !finite(value.U) || value.U <= 0:
		f.Reason = "the value or its uncertainty is no usable number"
	default:
		p := probability(limit, value)
		f.Value, f.U, f.Probability = &value.Value, &value.U, &p
		f.Result = Decide(p, confidence)
		if f.Result == record.NotProven && !provable(limit, value, confidence) {
			f.Reason = tooUncertain
		}
	}
	return f
}

// ElsewhereFeature finds the judgement of the i-th of the values that JudgeElsewhere was given; false where it had none.
func ElsewhereFeature(v *record.Verdict, values []site.Elsewhere, i int) (record.Feature, bool) {
	if v == nil || values[i].NotJudged() != "" {
		return record.Feature{}, false
	}
	before := 0 // values of the same kind
	for _, other := range values[:i] {
		if other.Key == values[i].Key && other.NotJudged() == "" {
			before++
		}
	}
	for _, f := range v.Features {
		if f.Key != values[i].Key {
			continue
		}
		if before == 0 {
			return f, true
		}
		before--
	}
	return record.Feature{}, false
}
