package wording

import (
	"fmt"
	"math"
	"strconv"

	"crimprule/internal/statistics"
)

// AQL writes an acceptance quality limit as the tables do, "1.0".
func AQL(v float64) string {
	text := strconv.FormatFloat(v, 'f', -1, 64)
	if v == math.Trunc(v) {
		text += ".0"
	}
	return text
}

// Chance writes a probability with a decimal; only what is sure reads as 0 or 100 %.
func Chance(v float64) string {
	switch text := strconv.FormatFloat(100*v, 'f', 1, 64); {
	case v > 0 && text == "0.0":
		return "<0.1 %"
	case v < 1 && text == "100.0":
		return ">99.9 %"
	default:
		return text + " %"
	}
}

// Sampled says in a line what was found in the sample of a lot, and what that makes of the lot.
func Sampled(plan statistics.Plan, s statistics.Sample) string {
	found := fmt.Sprintf("%d inspected, %d not conforming", s.Inspected, s.Bad)
	if s.Open > 0 {
		found += fmt.Sprintf(", %d not proven or not measured", s.Open)
	}
	switch s.Outcome {
	case statistics.Accepted:
		return found + ": the lot is accepted"
	case statistics.Rejected:
		return found + ": the lot is REJECTED"
	}
	return found + ": NOT DECIDED yet"
}

// SampledReason says what decided, or what is needed to decide.
func SampledReason(plan statistics.Plan, s statistics.Sample) string {
	switch {
	case s.Outcome == statistics.Accepted && s.Bad+s.Open > 0:
		return fmt.Sprintf("At most %d of the sample can be bad, and the plan accepts up to %d.", s.Bad+s.Open+max(plan.Sample-s.Inspected, 0), plan.Accept)
	case s.Outcome == statistics.Accepted:
		return "None of the sample is bad."
	case s.Outcome == statistics.Rejected:
		return fmt.Sprintf("The plan rejects from %d on. Sort the whole lot crimp by crimp, and find the cause before more are made.", plan.Reject)
	case s.Inspected < plan.Sample:
		return fmt.Sprintf("Inspect %d more, drawn at random.", plan.Sample-s.Inspected)
	case s.Inspected > plan.Sample:
		return fmt.Sprintf("More were inspected than the plan asks for. Count only the first %d that were drawn, or a part of %d chosen by lot.",
			plan.Sample, plan.Sample)
	}
	return "It hangs on those that are not proven or not measured: take better pictures of them, or measure them by other means."
}
