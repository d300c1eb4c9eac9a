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
	d := b.drawn()
	j.More = append(j.More, d.remarks()...)
	if d.all > plan.Size {
		j.Head = fmt.Sprintf("Not decided: the sample holds %d crimps and the lot is said to have %d; name the lot's true size.", d.all, plan.Size)
		return j
	}
	s := plan.Inspect(d.bad, d.open, d.all)
	j.Outcome = s.Outcome
	j.Head = wording.Sampled(plan, s) + "."
	j.More = append(j.More, wording.SampledReason(plan, s))
	if s.Inspected > 0 && s.Inspected < plan.Size {
		j.More = append(j.More, fmt.Sprintf("Of the whole lot %s to %s do not conform (95 %% interval after Clopper and Pearson), if the crimps of the "+
			"scan were drawn at random.", wording.Chance(s.Low), wording.Chance(s.High)))
	}
	return j
}

// sampled are the crimps that were drawn from the lot.
type sampled struct {
	bad, open, all int
	gone           int // of these, those whose pictures are gone
	anew           int // crimps that were made anew, which were not drawn
}

// drawn counts the crimps that were drawn: those of this scan, and those that an earlier one found bad or open and whose
// pictures are gone. Of a crimp that was made anew the first one was drawn, and tells of the lot.
func (b *book) drawn() sampled {
	var s sampled
	add := func(result record.Result, replaces bool) {
		if replaces {
			s.anew++
			return
		}
		s.all++
		switch result {
		case record.Conforms:
		case record.DoesNotConform:
			s.bad++
		default:
			s.open++
		}
	}
	for _, r := range b.rows {
		if r.Kind != strippedEnd {
			add(r.Result, r.Replaces)
		}
	}
	counted := s.all
	for _, m := range b.info.Missing {
		if !m.Crimp.Stripped() {
			add(m.Result, m.Crimp.Replaces())
		}
	}
	s.gone = s.all - counted
	return s
}

func (s sampled) remarks() []string {
	var all []string
	if s.gone > 0 {
		all = append(all, fmt.Sprintf("Counted in %s whose pictures are gone, as an earlier scan of the same source found them: a picture that is left out "+
			"takes no crimp out of the sample. Where they are of another lot, scan each lot in a folder of its own.", pick(s.gone == 1, "is 1 crimp", fmt.Sprintf("are %d crimps", s.gone))))
	}
	if s.anew > 0 {
		all = append(all, fmt.Sprintf("Left out %s made anew: the sample is what was drawn, and that are the crimps before.",
			pick(s.anew == 1, "is 1 crimp that was", fmt.Sprintf("are %d crimps that were", s.anew))))
	}
	return all
}
