package terminal

import (
	"strings"

	"crimprule/internal/wording"
	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

// Budgets prints what makes each value of a record uncertain: a table a value, with a line a component. Of a picture that
// was refused there is nothing to print.
func (t *Terminal) Budgets(rec record.Record) error {
	if len(rec.Retake) > 0 || len(rec.Measured) == 0 {
		return nil
	}
	p := t.page()
	p.line("%s: what makes the values uncertain", wording.Clean(rec.Image))
	p.wrapped(2, "", "Each component is a standard uncertainty in the value's own unit, beside it its share of the variance. They combine by "+
		"the root of the sum of their squares (JCGM 100:2008, 5.1.2); twice that (k = 2, about 95 %) stands behind the ±.")
	present := make([]record.Key, 0, len(rec.Measured))
	for key := range rec.Measured {
		present = append(present, key)
	}
	for _, g := range wording.Groups(rec.View, present) {
		p.line("  %s", g.Title)
		for _, key := range g.Keys {
			p.budget(wording.Name(rec.View, key), rec.Measured[key], rec.Budgets[key])
		}
	}
	p.line("")
	return p.w.Flush()
}

// budget prints the table of one value.
func (p *page) budget(name string, v record.Value, budget uncertainty.Budget) {
	p.line("    %s: %s", name, wording.Quantity(v))
	shares := budget.Shares()
	switch {
	case v.U <= 0:
		p.line("      nothing: it is sure as it stands")
		return
	case len(shares) == 0:
		p.line("      not told part by part")
		return
	}
	whole := budget.Standard()
	shares = append(shares, uncertainty.Share{
		Component: uncertainty.Component{Name: "together", Source: "times 2 this is the value's u", Standard: whole}, Share: 1})
	var width, figure int
	for _, s := range shares {
		width, figure = widest(width, s.Name), widest(figure, wording.Small(s.Standard, whole))
	}
	for _, s := range shares {
		label := padded(s.Name, width, false) + "  " + padded(wording.Small(s.Standard, whole), figure, true) + "  " +
			padded(wording.Percent(s.Share), len("100 %"), true) + "  "
		p.wrapped(6, label, strings.TrimSpace(s.Source))
	}
}
