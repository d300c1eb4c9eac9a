package accuracy

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"crimprule/vision/record"
)

// Tables gather the errors of many pictures, by view and by set.
type Tables struct {
	all  map[Of]*table
	seen map[string]bool // pictures, by their SHA-256
}

// Has tells whether a picture of this SHA-256 was added already.
func (t *Tables) Has(sha256 string) bool { return t.seen[sha256] }

// Of names a table: one view's pictures of one set.
type Of struct {
	View record.View
	Set  string
}

// table is what is known of one view and set.
type table struct {
	pictures int // that can be measured
	right    int // refused, as they must be
	missed   []string
	wrong    []string // refused though they can be measured, with the reason
	scales   map[string]int
	rows     map[record.Key]*row
}

// row holds the errors of one measurand, in its own unit.
type row struct {
	known  int // pictures whose truth has the value
	errors []float64
	u      []float64
}

// Figures are what a row comes to. Cover is the share of errors that lie within the stated u, U the median of that.
type Figures struct {
	Known, Got          int
	Bias, RMS, Cover, U float64
	Exact               int // errors that are nought; for counts
}

// Add holds one record against the truth.
func (t *Tables) Add(c Case, rec record.Record) {
	if t.all == nil {
		t.all, t.seen = map[Of]*table{}, map[string]bool{}
	}
	t.seen[rec.SHA256] = true
	of := Of{c.Request.View, c.Set}
	v := t.all[of]
	if v == nil {
		v = &table{rows: map[record.Key]*row{}, scales: map[string]int{}}
		t.all[of] = v
	}
	name, refused := filepath.Base(c.Picture), len(rec.Retake) > 0
	switch {
	case c.Refuse != "" && refused:
		v.right++
		return
	case c.Refuse != "":
		v.missed = append(v.missed, name+" ("+c.Refuse+")")
		return
	case refused:
		v.wrong = append(v.wrong, name+" ("+strings.Join(rec.Retake, "; ")+")")
	}
	v.pictures++
	for _, s := range c.Request.Scales {
		v.scales[s.Kind]++
	}
	for _, key := range record.Keys(c.Request.View) {
		truth, known := c.Truth[key]
		if !known {
			continue
		}
		r := v.rows[key]
		if r == nil {
			r = &row{}
			v.rows[key] = r
		}
		r.known++
		if got, ok := rec.Measured[key]; ok {
			r.errors, r.u = append(r.errors, got.Value-truth), append(r.u, got.U)
		}
	}
}

// figures works a row out.
func (r row) figures() Figures {
	f := Figures{Known: r.known, Got: len(r.errors)}
	if f.Got == 0 {
		return f
	}
	within := 0
	for i, e := range r.errors {
		f.Bias += e
		f.RMS += e * e
		if math.Abs(e) <= r.u[i]+1e-9 {
			within++
		}
		if math.Abs(e) < 1e-9 {
			f.Exact++
		}
	}
	n := float64(f.Got)
	u := slices.Sorted(slices.Values(r.u))
	f.Bias, f.RMS, f.Cover, f.U = f.Bias/n, math.Sqrt(f.RMS/n), float64(within)/n, (u[(f.Got-1)/2]+u[f.Got/2])/2
	return f
}

// Which lists the tables that there are: views in the order of the contract, and in each the sets by name.
func (t *Tables) Which() []Of {
	order := []record.View{record.Seam, record.Side, record.Strip, record.Section}
	return slices.SortedFunc(maps.Keys(t.all), func(a, b Of) int {
		return cmp.Or(cmp.Compare(slices.Index(order, a.View), slices.Index(order, b.View)), cmp.Compare(a.Set, b.Set))
	})
}

// Figures are those of one measurand; nil where there are none.
func (t *Tables) Figures(of Of, key record.Key) *Figures {
	v := t.all[of]
	if v == nil || v.rows[key] == nil {
		return nil
	}
	f := v.rows[key].figures()
	return &f
}

// Markdown writes the tables of these views; those without pictures are left out.
func (t *Tables) Markdown(views ...record.View) string {
	var out []string
	for _, of := range t.Which() {
		if slices.Contains(views, of.View) {
			out = append(out, t.markdown(of))
		}
	}
	return strings.Join(out, "\n")
}

func (t *Tables) markdown(of Of) string {
	v, view := t.all[of], of.View
	digits := 3
	if view == record.Section {
		digits = 4 // micrographs tell micrometres
	}
	var b strings.Builder
	fmt.Fprintf(&b, "**%s, %s**: %s.\n\n", capital(string(view)), of.Set, v.summary())
	b.WriteString("| measurand | got | bias | rms | cover | u |\n|---|---|---|---|---|---|\n")
	var exact []string
	for _, key := range record.Keys(view) {
		f := t.Figures(of, key)
		switch {
		case f == nil:
			continue
		case f.Got == 0:
			fmt.Fprintf(&b, "| `%s` | 0 of %d | | | | |\n", key, f.Known)
			continue
		}
		fmt.Fprintf(&b, "| `%s` | %d of %d | %+.*f | %.*f | %.2f | %.*f |\n", key, f.Got, f.Known, digits, unsigned(f.Bias, digits), digits, f.RMS,
			f.Cover, digits, f.U)
		if slices.Contains(counts, key) {
			exact = append(exact, fmt.Sprintf("`%s` in %d of %d", key, f.Exact, f.Got))
		}
	}
	if len(exact) > 0 {
		fmt.Fprintf(&b, "\nExact: %s.\n", strings.Join(exact, ", "))
	}
	return b.String()
}

// counts are the measurands that a picture has exactly or not.
var counts = []record.Key{record.StrayCount, record.CutStrands, record.StrandCount}

// unsigned takes the sign off a bias that reads as nought.
func unsigned(v float64, digits int) float64 {
	if math.Abs(v) < 0.5*math.Pow10(-digits) {
		return 0
	}
	return v
}

func capital(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

// summary says how many pictures there are, by which scales, and how refusals went.
func (v *table) summary() string {
	var scales []string
	for _, kind := range []string{"chessboard", "rule", "disc", "bar", "known"} {
		if n := v.scales[kind]; n > 0 {
			scales = append(scales, fmt.Sprintf("%s %d", kind, n))
		}
	}
	text := fmt.Sprintf("%d to be measured (%s), %d of them wrongly refused", v.pictures, strings.Join(scales, ", "), len(v.wrong))
	if must := v.right + len(v.missed); must > 0 {
		text += fmt.Sprintf("; %d to be refused, %d of them rightly are", must, v.right)
	}
	return text
}

// Complaints name each picture that was refused wrongly, or measured though it must be refused.
func (t *Tables) Complaints() []string {
	var all []string
	for _, of := range t.Which() {
		for _, name := range t.all[of].wrong {
			all = append(all, fmt.Sprintf("%s, %s, wrongly refused: %s", of.View, of.Set, name))
		}
		for _, name := range t.all[of].missed {
			all = append(all, fmt.Sprintf("%s, %s, not refused: %s", of.View, of.Set, name))
		}
	}
	return all
}
