// Package verdict judges a record against a tolerances file. The decision rule is that of ISO 14253-1:2017 and JCGM
// 106:2012: it asks for the probability that the true value lies within the limits. Pure functions.
package verdict

import (
	"fmt"
	"math"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

// Judge judges every limit of the file, in the file's order, and the crimp as a whole: it is as good as its worst
// feature. Where the picture was refused (rec.Retake) nothing is judged, and every feature is not measured. Failed and
// doubtful features carry advice. A file without limits gives not_measured: nothing was asked. A
// confidence that is not over 0.5 and under 1, which only a File made by hand can have, is read as the default.
func Judge(rec record.Record, file tolerance.File) record.Verdict {
	if !(file.Confidence > 0.5 && file.Confidence < 1) {
		file.Confidence = tolerance.DefaultConfidence
	}
	verdict := record.Verdict{Result: record.NotMeasured, Tolerances: file.Name, Features: []record.Feature{}}
	grades := []grade{}
	for _, limit := range file.Limits {
		feature := judge(rec, file, limit)
		g := gradeOf(feature, file.Confidence, limit.Weight)
		if feature.Probability != nil {
			feature.Score = rounded(score([]grade{g}), feature.Result)
		}
		feature.Advice = advice.For(rec.View, feature)
		verdict.Features = append(verdict.Features, feature)
		grades = append(grades, g)
	}
	verdict.Result = worst(verdict.Features)
	verdict.Score = *rounded(score(grades), verdict.Result)
	return verdict
}

// judge judges one measurand. The expanded uncertainty of the record (k = 2) becomes a standard one.
func judge(rec record.Record, file tolerance.File, limit tolerance.Limit) record.Feature {
	f := record.Feature{
		Key: limit.Key, Result: record.NotMeasured, Unit: limit.Key.Unit(),
		Min: limit.Min, Max: limit.Max, Aim: limit.Aim, Note: limit.Note,
	}
	value, ok := rec.Measured[limit.Key]
	switch {
	case len(rec.Retake) > 0:
		f.Reason = "the picture was refused: " + strings.Join(rec.Retake, "; ")
	case file.View != "" && rec.View != file.View:
		f.Reason = fmt.Sprintf("the tolerances are for the view %s and the picture was measured as %s", file.View, rec.View)
	case !ok && rec.Unmeasured[limit.Key] != "":
		f.Reason = rec.Unmeasured[limit.Key]
	case !ok:
		f.Reason = fmt.Sprintf("it is not measured in the view %s", rec.View)
	case !finite(value.Value) || !finite(value.U) || value.U < 0:
		f.Reason = "the measured value or its uncertainty is no usable number"
	default:
		p := probability(limit, value)
		f.Value, f.U, f.Probability = &value.Value, &value.U, &p
		f.Result = Decide(p, file.Confidence)
		if f.Result == record.NotProven && !provable(limit, value, file.Confidence) {
			f.Reason = tooUncertain
		}
	}
	return f
}

const tooUncertain = "its uncertainty is too large for this limit, so that no value at all would be proven to lie within it"

// provable tells whether any value could be proven to lie within a limit with the uncertainty that this one has: the
// middle between two limits, else the one furthest from the only limit that the measurand can have.
func provable(limit tolerance.Limit, value record.Value, confidence float64) bool {
	low, high := tolerance.Possible(limit.Key)
	if limit.Min != nil {
		low = *limit.Min
	}
	if limit.Max != nil {
		high = *limit.Max
	}
	switch {
	case limit.Min != nil && limit.Max != nil:
		value.Value = (low + high) / 2
	case limit.Max != nil:
		value.Value = low
	default:
		value.Value = high
	}
	return probability(limit, value) >= confidence
}

// probability is that of the true value lying within the limit. The true value of a count is a whole number: where the
// count is in doubt, all that rounds to a number within the limits counts (the usual continuity correction), since a
// normal distribution has no share on one single number and a limit "exactly 56" could never be met. A sure count needs
// none of this.
func probability(limit tolerance.Limit, value record.Value) float64 {
	low, high := limit.Min, limit.Max
	if tolerance.Whole(limit.Key) && value.U > 0 {
		low, high = moved(low, -0.5), moved(high, 0.5)
	}
	return Probability(value.Value, value.U/uncertainty.CoverageFactor, low, high)
}

func moved(bound *float64, by float64) *float64 {
	if bound == nil {
		return nil
	}
	v := *bound + by
	return &v
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Probability is the conformance probability: that of the true value lying within the limits (either may be nil),
// when value was measured with the standard uncertainty u. Normal model, after JCGM 106:2012, 7.2 to 7.4: p =
// Phi((max-value)/u) - Phi((min-value)/u). With u = 0 (a count that cannot be wrong) it is 1 on the limits and between
// them, else 0.
func Probability(value, u float64, low, high *float64) float64 {
	below, above := math.Inf(-1), math.Inf(1)
	if low != nil {
		below = *low - value
	}
	if high != nil {
		above = *high - value
	}
	if u == 0 {
		if below <= 0 && above >= 0 {
			return 1
		}
		return 0
	}
	a, b := below/u, above/u
	if a > 0 { // both limits lie in the upper tail: mirrored, where the differences of Phi keep their digits
		a, b = -b, -a
	}
	return min(max(phi(b)-phi(a), 0), 1)
}

// phi is the distribution function of the standard normal distribution.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// Decide applies the decision rule: a feature conforms when p reaches the confidence, does not conform when p is at
// most 1 - confidence, and is not proven in between.
func Decide(p, confidence float64) record.Result {
	switch {
	case p >= confidence:
		return record.Conforms
	case p <= 1-confidence:
		return record.DoesNotConform
	}
	return record.NotProven
}

// worst is the result of the whole: that of its worst feature.
func worst(features []record.Feature) record.Result {
	if len(features) == 0 {
		return record.NotMeasured
	}
	result := record.Conforms
	for _, f := range features {
		if f.Result.Worse(result) {
			result = f.Result
		}
	}
	return result
}
