package scan

import (
	"cmp"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// nameFields are the fields that a pattern of file names may have.
var nameFields = []string{"string", "crimp", "view", "crew", "tool", "trainee", "date"}

const (
	maxPattern = 200  // characters
	maxName    = 1000 // bytes of a path that is held against a pattern
)

// pattern tells what a picture shows by its name: texts with a field between any two of them. A field stands for one or
// more characters of a name, but for no slash; {} stands for anything, and for nothing.
type pattern struct {
	text   string
	texts  []string // one more than fields; those between fields are not empty
	fields []string
	origin site.Origin // of what it tells
	whole  bool        // it is held against the path from the scanned folder on, not against the file's name only
}

// parsePattern reads a pattern such as {string}_{crimp}_{view}; nil for none.
func parsePattern(text string) (*pattern, error) {
	if text == "" {
		return nil, nil
	}
	p, err := readPattern(text)
	if err != nil {
		return nil, fmt.Errorf("pattern %q: %w", short(text), err)
	}
	return p, nil
}

const patternExample = "write, for example, {string}_{crimp}_{view}"

func readPattern(text string) (*pattern, error) {
	if !utf8.ValidString(text) {
		return nil, errors.New("it is not UTF-8 text; " + patternExample)
	}
	if n := utf8.RuneCountInString(text); n > maxPattern {
		return nil, fmt.Errorf("it has %d characters, more than the %d that it may have; %s", n, maxPattern, patternExample)
	}
	p := &pattern{text: text, origin: site.FromName, whole: strings.Contains(text, "/")}
	for rest := text; ; {
		before, after, opened := strings.Cut(rest, "{")
		if strings.Contains(before, "}") {
			return nil, fmt.Errorf("a '}' closes nothing before %q; fields are written {crimp}", short(before))
		}
		p.texts = append(p.texts, before)
		if !opened {
			break
		}
		field, left, closed := strings.Cut(after, "}")
		if !closed || strings.Contains(field, "{") {
			return nil, fmt.Errorf("the '{' before %q is not closed; fields are written {crimp}", short(after))
		}
		if err := p.checkField(field); err != nil {
			return nil, err
		}
		p.fields, rest = append(p.fields, field), left
	}
	if !slices.Contains(p.fields, "crimp") {
		return nil, errors.New("it has no {crimp}, so that no crimp could be told from another; " + patternExample)
	}
	if last := p.texts[len(p.texts)-1]; looksLike(last) || strings.HasSuffix(last, ".*") {
		return nil, fmt.Errorf("it ends in %q, but names are held against it without their ending; take it out", path.Ext(last))
	}
	return p, nil
}

// checkField checks a field against those before it.
func (p *pattern) checkField(field string) error {
	switch {
	case field != "" && !slices.Contains(nameFields, field):
		hint := tolerance.Allowed(field, nameFields)
		return fmt.Errorf("unknown field {%s}; %s, and {} for anything", short(field), strings.ReplaceAll(hint, "\n", " "))
	case field != "" && slices.Contains(p.fields, field):
		return fmt.Errorf("the field {%s} is there twice; keep one of the two, and write {} for the other", field)
	case len(p.fields) > 0 && p.texts[len(p.texts)-1] == "":
		return fmt.Errorf("nothing stands between {%s} and {%s}, so that nobody can tell where one ends and the other begins; "+
			"put the text between them that the names have there, such as _", p.fields[len(p.fields)-1], field)
	}
	return nil
}

// label gives a picture what its name says, where the manifest does not say which crimp it shows. What the manifest
// does say stays. A name that says nothing, or that can be read in several ways, leaves a note.
func (p *pattern) label(f *Found) {
	if p == nil || f.Label.Crimp != "" {
		return
	}
	values, why := p.read(f.File)
	if why != "" {
		if f.Origin == site.Alone && f.Label.Note == "" {
			f.Label.Note = why
		}
		return
	}
	for i, field := range p.fields {
		switch {
		case field == "":
		case field == "view" && f.View == "":
			f.View = record.View(strings.ToLower(values[i]))
		case field != "view":
			if to := labelField(&f.Label, field); *to == "" {
				*to = cmp.Or(plain(values[i]), values[i])
			}
		}
	}
	f.Label.Date = dashed(f.Label.Date)
	f.Origin = p.origin
}

// read gives the fields' values in a name, those of {} left out, or says why there are none.
func (p *pattern) read(name string) (values []string, why string) {
	name = stem(name)
	if !p.whole {
		name = name[strings.LastIndexByte(name, '/')+1:]
	}
	if len(name) > maxName {
		return nil, fmt.Sprintf("its name has more than %d bytes and was not held against the pattern %s", maxName, p.text)
	}
	m := matcher{p: p, name: name, known: map[[2]int]readings{}}
	found := m.from(0, 0)
	switch {
	case found.n > 1:
		return nil, fmt.Sprintf("its name fits the pattern %s in more than one way, so that it tells nothing", p.text)
	case found.n == 1:
		return found.list(len(p.fields)), ""
	case m.wrong != "":
		return nil, fmt.Sprintf("its name fits the pattern %s, but %s", p.text, m.wrong)
	}
	return nil, "its name does not fit the pattern " + p.text
}

// reading is one way to read the rest of a name: the value of a field, and the way to read what follows it.
type reading struct {
	value string
	next  *reading
}

// readings are the different ways to read the rest of a name; of more than two the first two are kept.
type readings struct {
	n   int
	way [2]*reading
}

func (r *readings) add(way *reading) {
	if r.n == 0 || r.n == 1 && !r.way[0].equal(way) {
		r.way[r.n] = way
		r.n++
	}
}

func (r *reading) equal(other *reading) bool {
	for r != nil && other != nil && r.value == other.value {
		r, other = r.next, other.next
	}
	return r == nil && other == nil
}

func (r *readings) list(n int) (values []string) {
	for w := r.way[0]; len(values) < n; w = w.next {
		values = append(values, w.value)
	}
	return values
}

// matcher holds a name against a pattern.
type matcher struct {
	p     *pattern
	name  string
	known map[[2]int]readings
	wrong string // what was wrong with a value by which the name would fit
}

// from reads the name from a byte on: the pattern's text number i, and what follows it.
func (m *matcher) from(i, at int) readings {
	key := [2]int{i, at}
	if r, known := m.known[key]; known {
		return r
	}
	var all readings
	if strings.HasPrefix(m.name[at:], m.p.texts[i]) {
		all = m.field(i, at+len(m.p.texts[i]))
	}
	m.known[key] = all
	return all
}

// field reads the field after text i, and what follows it.
func (m *matcher) field(i, at int) (all readings) {
	if i == len(m.p.fields) {
		if at == len(m.name) {
			all.n = 1 // with nothing more to read
		}
		return all
	}
	name := m.p.fields[i]
	from := at
	if name != "" {
		from++
	}
	for end := from; end <= len(m.name) && all.n < 2; end++ {
		value := m.name[at:end]
		if name != "" && value[len(value)-1] == '/' {
			break
		}
		rest := m.from(i+1, end)
		if rest.n == 0 {
			continue
		}
		if why := wrongValue(name, value); why != "" {
			m.wrong = why
			continue
		}
		if name == "" {
			value = ""
		}
		for k := range rest.n {
			all.add(&reading{value, rest.way[k]})
		}
	}
	return all
}

// wrongValue says why a field cannot have a value; empty where it can.
func wrongValue(field, value string) string {
	switch field {
	case "":
	case "view":
		switch record.View(strings.ToLower(value)) {
		case record.Seam, record.Side, record.Strip, record.Section, record.Auto:
		default:
			return fmt.Sprintf("%q is no view: seam, side, strip, section or auto", short(value))
		}
	case "date":
		if _, err := time.Parse(time.DateOnly, dashed(value)); err != nil {
			return fmt.Sprintf("%q is no date such as 2026-05-04", short(value))
		}
	default:
		if n := utf8.RuneCountInString(value); n > maxLabel {
			return fmt.Sprintf("its %s has %d characters, more than the %d that it may have", field, n, maxLabel)
		}
	}
	return ""
}

// dashed writes a date of eight digits with dashes.
func dashed(date string) string {
	if len(date) != 8 || strings.ContainsFunc(date, func(r rune) bool { return r < '0' || r > '9' }) {
		return date
	}
	return date[:4] + "-" + date[4:6] + "-" + date[6:]
}
