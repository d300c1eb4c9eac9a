package terminal

import (
	"fmt"
	"math"
	"strconv"

	"crimprule/internal/statistics"
)

// Lot prints a sampling plan, how well it tells good lots from bad ones and, where there is one, what its sample says.
func (t *Terminal) Lot(plan statistics.Plan, sample *statistics.Sample) error {
	p := t.page()
	p.line("Lot of %d, AQL %s %%, level %s: single sampling, normal inspection (ISO 2859-1)", plan.Size, AQL(plan.AQL), plan.Level)
	p.line("")
	p.line("  code letter  %s", plan.Letter)
	p.line("  sample       %s", sampleText(plan))
	p.line("  accept       with at most %d not conforming", plan.Accept)
	p.line("  reject       with %d or more", plan.Reject)
	p.arrows(plan)
	p.chances(plan)
	if sample != nil {
		p.sample(plan, *sample)
	}
	p.line("")
	for _, caution := range lotCautions {
		p.wrapped(0, "", caution)
	}
	return p.w.Flush()
}

// AQL writes an acceptance quality limit as the tables do, "1.0".
func AQL(v float64) string {
	text := strconv.FormatFloat(v, 'f', -1, 64)
	if v == math.Trunc(v) {
		text += ".0"
	}
	return text
}

var lotCautions = []string{
	"Draw the sample at random from the whole lot, and before anybody has looked at it. An accepted lot is not free of bad crimps; each one " +
		"that was found is made anew, whatever becomes of the lot.",
	"Tightened inspection after rejected lots, and reduced inspection after many good ones, are for whoever keeps the record of " +
		"the lots: they are not reckoned here. The table was read in copies, not in the standard itself.",
}

func sampleText(plan statistics.Plan) string {
	if plan.Whole {
		return fmt.Sprintf("all %d", plan.Size)
	}
	return fmt.Sprintf("%d of the %d", plan.Sample, plan.Size)
}

// arrows says how the table led to the plan.
func (p *page) arrows(plan statistics.Plan) {
	if plan.Letter != plan.Begun {
		p.line("")
		p.wrapped(2, "", fmt.Sprintf("The lot's size gives the letter %s. There the table has an arrow at this AQL, which leads to the letter %s, and with it to "+
			"that letter's own sample of %d.", plan.Begun, plan.Letter, plan.Table))
	}
	if plan.Whole {
		p.line("")
		p.wrapped(2, "", fmt.Sprintf("The letter's sample of %d is not smaller than the lot: every one is inspected.", plan.Table))
	}
}

func (p *page) chances(plan statistics.Plan) {
	p.line("")
	p.line("Chance that the lot is accepted although so many do not conform in truth")
	rows := [][]string{{"not conforming", "in this lot", "it is accepted", "any lot of such a production"}}
	for _, c := range plan.Passings() {
		count, this := strconv.Itoa(c.Bad), chance(c.ThisLot)
		if c.Bad == 0 {
			count, this = "none", "-"
		}
		rows = append(rows, []string{strconv.FormatFloat(100*c.Share, 'f', -1, 64) + " %", count, this, chance(c.AnyLot)})
	}
	for _, row := range rows {
		text := " "
		for i, cell := range row {
			text += " " + padded(cell, len(rows[0][i])+1, true)
		}
		p.line("%s", text)
	}
}

// chance writes a probability with a decimal; only what is sure reads as 0 or 100 %.
func chance(v float64) string {
	switch text := strconv.FormatFloat(100*v, 'f', 1, 64); {
	case v > 0 && text == "0.0":
		return "<0.1 %"
	case v < 1 && text == "100.0":
		return ">99.9 %"
	default:
		return text + " %"
	}
}

func (p *page) sample(plan statistics.Plan, s statistics.Sample) {
	p.line("")
	p.line("%s", outcomeLine(plan, s))
	p.wrapped(2, "", outcomeReason(plan, s))
	if s.Inspected > 0 && s.Inspected < plan.Size {
		p.wrapped(2, "", fmt.Sprintf("Of the whole lot %s to %s do not conform (95 %% interval after Clopper and Pearson, if the sample was drawn at random).",
			chance(s.Low), chance(s.High)))
	}
}

func outcomeLine(plan statistics.Plan, s statistics.Sample) string {
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

// outcomeReason says what decided, or what is needed to decide.
func outcomeReason(plan statistics.Plan, s statistics.Sample) string {
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
