package evidence

import (
	"html/template"
	"math"
	"strconv"
	"strings"
)

// bar shows a value with its u against its limits, as SVG. Only numbers that are formatted here go into it.
type bar struct{ SVG template.HTML }

// The bar's own units: it is scaled to the width that the page has for it.
const (
	barWidth, barHeight = 320.0, 40.0
	barTop, barBottom   = 4.0, 26.0
)

// newBar draws a judged value; nothing where there is no value or no limit.
func newBar(l line) bar {
	f := l.Feature
	if l.Value == nil || f.Min == nil && f.Max == nil || math.IsNaN(l.Value.Value) || math.IsInf(l.Value.Value, 0) ||
		math.IsNaN(l.Value.U) || math.IsInf(l.Value.U, 0) {
		return bar{}
	}
	value, u := l.Value.Value, math.Max(l.Value.U, 0)
	low, high := value-u, value+u
	for _, v := range []*float64{f.Min, f.Max, f.Aim} {
		if v != nil {
			low, high = math.Min(low, *v), math.Max(high, *v)
		}
	}
	span := high - low
	if span <= 0 {
		span = math.Max(math.Abs(high), 1)
	}
	low, high = low-0.2*span, high+0.2*span
	at := func(v float64) float64 { return barWidth * (v - low) / (high - low) }

	var b strings.Builder
	tag := func(parts ...any) { put(&b, parts...) }
	tag(`<svg class="bar" viewBox="0 0 `, barWidth, " ", barHeight, `" aria-hidden="true">`)
	left, right := 0.0, barWidth
	if f.Min != nil {
		left = at(*f.Min)
	}
	if f.Max != nil {
		right = at(*f.Max)
	}
	tag(`<rect class="inside" x="`, left, `" y="`, barTop, `" width="`, right-left, `" height="`, barBottom-barTop, `"/>`)
	limit := func(x, from, to, text float64, anchor string) {
		tag(`<rect class="outside" x="`, from, `" y="`, barTop, `" width="`, to-from, `" height="`, barBottom-barTop, `"/>`)
		tag(`<path class="limit" d="M`, x, ` 1V`, barBottom+3, `"/><text x="`, x, `" y="`, barHeight-1, `" text-anchor="`, anchor, `">`)
		b.WriteString(strconv.FormatFloat(text, 'f', -1, 64) + "</text>")
	}
	if f.Min != nil && f.Max != nil && *f.Min == *f.Max { // one number, so one label
		limit(left, 0, left, *f.Min, "middle")
		tag(`<rect class="outside" x="`, right, `" y="`, barTop, `" width="`, barWidth-right, `" height="`, barBottom-barTop, `"/>`)
	} else {
		if f.Min != nil {
			limit(left, 0, left, *f.Min, "end")
		}
		if f.Max != nil {
			limit(right, right, barWidth, *f.Max, "start")
		}
	}
	middle := (barTop + barBottom) / 2
	if f.Aim != nil {
		tag(`<path class="aim" d="M`, at(*f.Aim), " ", barTop+5, `l-4 -6h8z"/>`)
	}
	if u > 0 {
		from, to := at(value-u), at(value+u)
		tag(`<path class="whisker" d="M`, from, " ", middle, `H`, to, `M`, from, " ", middle-5, `v10M`, to, " ", middle-5, `v10"/>`)
	}
	tag(`<circle class="value" cx="`, at(value), `" cy="`, middle, `" r="4.5"/></svg>`)
	return bar{template.HTML(b.String())}
}
