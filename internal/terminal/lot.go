package terminal

import (
	"fmt"
	"strconv"

	"crimprule/internal/statistics"
	"crimprule/internal/wording"
)

// Lot prints a sampling plan, how well it tells good lots from bad ones and, where there is one, what its sample says.
func (t *Terminal) Lot(plan statistics.Plan, sample *statistics.Sample) error {
	p := t.page()
	p.line("Lot of %d, AQL %s %%, level %s: single sampling, normal inspection (ISO 2859-1)", plan.Size, wording.AQL(plan.AQL), plan.Level)
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
		count, this := strconv.Itoa(c.Bad), wording.Chance(c.ThisLot)
		if c.Bad == 0 {
			count, this = "none", "-"
		}
		rows = append(rows, []string{strconv.FormatFloat(100*c.Share, 'f', -1, 64) + " %", count, this, wording.Chance(c.AnyLot)})
	}
	for _, row := range rows {
		text := " "
		for i, cell := range row {
			text += " " + padded(cell, len(rows[0][i])+1, true)
		}
		p.line("%s", text)
	}
}

func (p *page) sample(plan statistics.Plan, s statistics.Sample) {
	p.line("")
	p.line("%s", wording.Sampled(plan, s))
	p.wrapped(2, "", wording.SampledReason(plan, s))
	if s.Inspected > 0 && s.Inspected < plan.Size {
		p.wrapped(2, "", fmt.Sprintf("Of the whole lot %s to %s do not conform (95 %% interval after Clopper and Pearson, if the sample was drawn at random).",
			wording.Chance(s.Low), wording.Chance(s.High)))
	}
}
