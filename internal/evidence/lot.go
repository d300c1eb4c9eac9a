package evidence

import (
	"fmt"

	"crimprule/internal/statistics"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// LotJudgement is what the scan, taken as the sample of a lot, says of the lot.
type LotJudgement struct {
	Outcome statistics.Outcome
	Head    string   // in a line
	More    []string // plan, reason and interval
}

// lot judges the lot; nil where there is none. A plan that does not exist is told and not an error: the evidence of what
// was measured is worth the same without it.
func (b *book) lot() *LotJudgement {
	lot := b.info.Lot
	if lot == nil {
		return nil
	}
	level := lot.Level
	if level == "" {
		level = "II"
	}
	j := &LotJudgement{Outcome: statistics.Open}
	plan, err := statistics.LotPlan(lot.Size, level, lot.AQL)
	if err != nil {
		j.Head = "The lot is not judged: " + err.Error() + "."
		return j
	}
	j.More = append(j.More, fmt.Sprintf("Lot of %d, AQL %s %%, level %s (ISO 2859-1, single sampling, normal inspection): letter %s, a sample of %d; "+
		"accepted with at most %d not conforming, rejected with %d or more. Not proven, not measured and not judged crimps may be good or bad.",
		plan.Size, wording.AQL(plan.AQL), plan.Level, plan.Letter, plan.Sample, plan.Accept, plan.Reject))
	bad, open, all := b.crimps(record.DoesNotConform), b.crimps(record.NotProven)+b.crimps(record.NotMeasured)+b.crimps(""), b.total().Crimps
	if all > plan.Size {
		j.Head = fmt.Sprintf("Not decided: the scan holds %d crimps and the lot is said to have %d; name the lot's true size.", all, plan.Size)
		return j
	}
	s := plan.Inspect(bad, open, all)
	j.Outcome = s.Outcome
	j.Head = wording.Sampled(plan, s) + "."
	j.More = append(j.More, wording.SampledReason(plan, s))
	if s.Inspected > 0 && s.Inspected < plan.Size {
		j.More = append(j.More, fmt.Sprintf("Of the whole lot %s to %s do not conform (95 %% interval after Clopper and Pearson), if the crimps of the "+
			"scan were drawn at random.", wording.Chance(s.Low), wording.Chance(s.High)))
	}
	return j
}
