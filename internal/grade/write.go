package grade

import (
	"embed"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"crimprule/internal/advice"
	"crimprule/internal/evidence"
	"crimprule/internal/statistics"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

//go:embed templates
var templates embed.FS

// Folder is where the sheets lie in the evidence.
const Folder = "trainees"

// Caution stands on every sheet.
const Caution = "These sheets look at pictures of crimps. They do not qualify a person: whether somebody may crimp unattended is for the trainer to say, " +
	"who has watched the work, after the tests that the contact's specification asks for."

// FewCrimps stands beside every comparison.
func FewCrimps() string {
	return fmt.Sprintf("Few crimps say little: the interval behind each yield holds the true share with 95 %% confidence (Clopper and Pearson). Two "+
		"yields whose intervals do not overlap differ; two whose intervals overlap may differ or may not. To show a yield of 95 %%, %d crimps without a fault are needed.",
		statistics.WithoutFault(0.95, statistics.Usual))
}

// Write adds the sheets to the evidence in dir: trainees/index.html, a page and a PDF a trainee, and grade.json. The
// style sheet and the pages of the crimps, which the sheets lead to, are those of the evidence.
func Write(dir string, info evidence.Info, r Report) error {
	style, err := templates.ReadFile("templates/trainees.css")
	if err != nil {
		return err
	}
	if err := file(dir, "trainees.css", func(w io.Writer) error { _, err := w.Write(style); return err }); err != nil {
		return err
	}
	h := headOf(info)
	if err := file(dir, "index.html", func(w io.Writer) error {
		return pages.ExecuteTemplate(w, "index.html", newIndex(h, r, advice.Below(info.Views...)))
	}); err != nil {
		return err
	}
	for i, t := range r.Trainees {
		page := newPage(h, r.Mark, t, i, len(r.Trainees), advice.Below(info.Views...))
		if err := file(dir, sheetName(i, "html"), func(w io.Writer) error { return pages.ExecuteTemplate(w, "trainee.html", page) }); err != nil {
			return err
		}
		if err := file(dir, sheetName(i, "pdf"), func(w io.Writer) error { return writePDF(w, dir, info, page) }); err != nil {
			return err
		}
	}
	return file(dir, "grade.json", r.WriteJSON)
}

// WriteJSON writes the report as JSON.
func (r Report) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

func file(dir, name string, write func(io.Writer) error) error {
	return evidence.WriteFile(dir, Folder+"/"+name, write)
}

// sheetName is the file of the i-th trainee: names of people are no names of files.
func sheetName(i int, ending string) string { return fmt.Sprintf("%02d.%s", i+1, ending) }

// Called is what a trainee is called in lists.
func (t Trainee) Called() string {
	if t.Name == "" {
		return "(no trainee named)"
	}
	return wording.Clean(t.Name)
}

// Text is the yield in words, with its interval.
func (y Yield) Text() string {
	switch {
	case y.Of == 0:
		return "none measured"
	case !y.Proven:
		return fmt.Sprintf("none proven, %d open", y.Open)
	}
	return fmt.Sprintf("%.0f %% (%.0f to %.0f %%)", 100*float64(y.Conforming)/float64(y.Of), 100*y.Low, 100*y.High)
}

// Text is the mean score with the least and the greatest one.
func (p Points) Text() string {
	switch p.Of {
	case 0:
		return "-"
	case 1:
		return fmt.Sprintf("%.1f", p.Mean)
	}
	return fmt.Sprintf("%.1f (%.1f to %.1f)", p.Mean, p.Least, p.Most)
}

// Text is the standing in a word or two.
func (s Standing) Text() string {
	switch s {
	case Reached:
		return "reached"
	case Open:
		return "open"
	case NoMark:
		return "no mark"
	}
	return "not reached"
}

// Short is the mean score, for a table.
func (p Points) Short() string {
	if p.Of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f", p.Mean)
}

// Text is the longest row and the present one, for a table.
func (r Row) Text() string {
	if r.Standing == NoMark {
		return "-"
	}
	return fmt.Sprintf("%d, %d", r.Longest, r.Current)
}

// PassedText is how many crimps that do not conform were passed as good, for a table; a dash where none was judged by both.
func (a Agreement) PassedText() string {
	if a.Both() == 0 {
		return "-"
	}
	return fmt.Sprint(a.TooKind)
}

// ToPractise names what to practise, with crimps or else with stripped wires; a dash where there is nothing.
func (t Trainee) ToPractise() string {
	switch {
	case t.Practise != nil && (t.Cause != nil || t.Wires.Cause == nil):
		return t.Practise.Name
	case t.Wires.Practise != nil:
		return t.Wires.Practise.Name
	}
	return "-"
}

// Text says how the wires came out; empty where there are none.
func (w Wires) Text() string {
	n := len(w.Wires)
	switch {
	case n == 0:
		return ""
	case w.Conforming+w.NotConform == 0:
		return fmt.Sprintf("stripped wires: none proven, %d open", n)
	}
	text := fmt.Sprintf("stripped wires: %d of %d conform", w.Conforming, n)
	if open := w.Open(); open > 0 {
		text += fmt.Sprintf(", %d open", open)
	}
	return text
}

// WiresShort is the same for a table.
func (t Trainee) WiresShort() string {
	if text := t.Wires.Text(); text != "" {
		return strings.TrimPrefix(text, "stripped wires: ")
	}
	return "-"
}

// InDoubt are the crimps and wires whose pictures do not prove them.
func (t Trainee) InDoubt() []Crimp {
	var all []Crimp
	for _, c := range slices.Concat(t.Crimps, t.Wires.Wires) {
		if len(c.Doubts) > 0 {
			all = append(all, c)
		}
	}
	return all
}

// DoubtWords says why.
func (c Crimp) DoubtWords() string { return wording.Clean(strings.Join(c.Doubts, "; ")) }

// badge is how a result is shown: words and a shape, as in the evidence.
type badge struct{ Class, Words string }

func badgeOf(result record.Result) badge {
	switch result {
	case record.Conforms, record.DoesNotConform, record.NotProven, record.NotMeasured:
		return badge{string(result), wording.Result(result)}
	}
	return badge{"not_judged", "not judged"}
}

// standingBadge shows the standing with the shape that says the same. A mark that was reached by a row that is over does not
// look like one that stands.
func standingBadge(t Trainee, mark Mark) badge {
	switch text := t.Row.Standing.Text(); t.Row.Standing {
	case Reached:
		if since := t.Since(mark); since != "" {
			return badge{"not_proven", text + ", " + since}
		}
		return badge{"conforms", text}
	case Open:
		return badge{"not_proven", text}
	default:
		return badge{"not_judged", text}
	}
}

func round1(v float64) float64 { return math.Round(10*v) / 10 }
