package verdict

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// JudgeElsewhere judges what was measured of a crimp with other instruments, by the same rule as Judge. Every value with a
// limit is judged, also where there are several of one kind: then each is a feature of its own, in the order of the
// values, and the worst counts, as everywhere. Where several files have a limit for a value, the one by which it comes off
// worst counts: nobody said which of them is meant. A limit without a value is not held against the crimp, since such tests are
// done on samples, nor is a value without a limit. Values that were withdrawn or set aside (site.Elsewhere.NotJudged) are
// left out; nil where nothing is left to judge.
func JudgeElsewhere(values []site.Elsewhere, files ...tolerance.File) *record.Verdict {
	v, _ := JudgeElsewhereBy(values, files)
	return v
}

// JudgeElsewhereBy is JudgeElsewhere; by says of each feature which of the files judged it.
func JudgeElsewhereBy(values []site.Elsewhere, files []tolerance.File) (verdict *record.Verdict, by []int) {
	v := record.Verdict{Features: []record.Feature{}}
	grades := []grade{}
	for _, key := range limitedElsewhere(files) {
		for _, value := range values {
			if value.Key != key || value.NotJudged() != "" {
				continue
			}
			f, g, file := strictest(value.Value, key, files)
			v.Features, grades, by = append(v.Features, f), append(grades, g), append(by, file)
		}
	}
	if len(v.Features) == 0 {
		return nil, nil
	}
	var names []string
	for i, file := range files {
		if slices.Contains(by, i) && !slices.Contains(names, file.Name) {
			names = append(names, file.Name)
		}
	}
	v.Tolerances = strings.Join(names, "; ")
	v.Result = worst(v.Features)
	v.Score = *rounded(score(grades), v.Result)
	return &v, by
}

// limitedElsewhere lists what the files have limits for, each once.
func limitedElsewhere(files []tolerance.File) []record.Key {
	var keys []record.Key
	for _, file := range files {
		for _, limit := range file.Elsewhere {
			if !slices.Contains(keys, limit.Key) {
				keys = append(keys, limit.Key)
			}
		}
	}
	return keys
}

// strictest judges a value by each of the files that have a limit for it, and gives the worst judgement: the worse result, of
// equal ones the smaller score.
func strictest(value record.Value, key record.Key, files []tolerance.File) (f record.Feature, g grade, by int) {
	by = -1
	for i, file := range files {
		if !(file.Confidence > 0.5 && file.Confidence < 1) {
			file.Confidence = tolerance.DefaultConfidence
		}
		for _, limit := range file.Elsewhere {
			if limit.Key != key {
				continue
			}
			one := judgeElsewhere(value, limit, file.Confidence)
			oneGrade := gradeOf(one, file.Confidence, limit.Weight)
			if one.Probability != nil {
				one.Score = rounded(score([]grade{oneGrade}), one.Result)
			}
			one.Advice = advice.ForElsewhere(one)
			if by < 0 || one.Result.Worse(f.Result) || one.Result == f.Result && one.Score != nil && f.Score != nil && *one.Score < *f.Score {
				f, g, by = one, oneGrade, i
			}
		}
	}
	return f, g, by
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
	at := ElsewhereIndex(v, values, i)
	if at < 0 {
		return record.Feature{}, false
	}
	return v.Features[at], true
}

// ElsewhereIndex gives the place among the verdict's features of the i-th of the values; -1 where it was not judged.
func ElsewhereIndex(v *record.Verdict, values []site.Elsewhere, i int) int {
	if v == nil || values[i].NotJudged() != "" {
		return -1
	}
	before := 0 // values of the same kind
	for _, other := range values[:i] {
		if other.Key == values[i].Key && other.NotJudged() == "" {
			before++
		}
	}
	for at, f := range v.Features {
		if f.Key != values[i].Key {
			continue
		}
		if before == 0 {
			return at
		}
		before--
	}
	return -1
}
