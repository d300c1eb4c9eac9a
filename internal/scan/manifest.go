package scan

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// manifestName is the manifest that is taken by itself at the top of a folder or ZIP.
const manifestName = "manifest.csv"

const (
	maxManifest      = 16 << 20 // bytes; a line of a site's list has some hundred
	maxLabel         = 200      // characters of a label
	maxShownProblems = 10
)

// row is a line of a manifest: what it says of one picture.
type row struct {
	line       int
	file       string // as it is written
	picture    string // the listed picture that is meant; empty where there is none
	label      site.Label
	view       record.View
	scales     []string
	declare    []string
	tolerances []string // as Listing.Read takes them
}

// columns are the names that a manifest's columns may have, in the order in which they are documented.
var columns = []string{"file", "crimp", "view", "scale", "declare", "tolerances", "string", "crew", "tool", "trainee", "date", "own_verdict", "note"}

// manifestReader reads a manifest and gathers what is wrong in it.
type manifestReader struct {
	name     string
	lines    []string
	csv      *csv.Reader
	column   []string // the name of each column, empty where it has none
	find     finder
	first    map[string]int // where a picture is named first
	problems []tolerance.Problem
	rows     []row
}

// finder finds what a manifest names.
type finder struct {
	latest     string                            // YYYY-MM-DD after which no crimp can have been made yet; empty: any day will do
	picture    func(cell string) string          // the name of a listed picture; empty where there is none
	tolerances func(path string) (string, error) // what Listing.Read takes; the error follows the path
	here       func(file string) bool            // whether a file of that name lies in the current folder; nil: nobody knows
}

// readManifest reads a manifest: CSV in UTF-8, or UTF-16 with a mark, with a line of column names, separated by comma, semicolon or tab. Of the
// columns only file must be there; order is free. A cell may be in quotes and then hold separators, line breaks and
// doubled quotes. The error is a *tolerance.Error with all that is wrong.
func readManifest(name string, data []byte, find finder) ([]row, error) {
	// A byte order mark tells UTF-16, which spreadsheets call Unicode text, and is taken away.
	if decoded, _, err := transform.Bytes(unicode.BOMOverride(transform.Nop), data); err == nil {
		data = decoded
	}
	if !bytes.ContainsRune(data, '\n') {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	m := &manifestReader{name: name, lines: strings.Split(string(data), "\n"), find: find, first: map[string]int{}}
	if m.plainText() {
		m.csv = csv.NewReader(bytes.NewReader(data))
		m.csv.FieldsPerRecord = -1
		m.csv.Comma = separator(m.lines[0])
		if m.header() {
			m.body()
		}
	}
	if len(m.problems) > 0 {
		return nil, m.err()
	}
	return m.rows, nil
}

// plainText refuses what is no text, before anything of it is shown.
func (m *manifestReader) plainText() bool {
	const save = "save it as 'CSV UTF-8' from the table's program"
	for i, line := range m.lines {
		if strings.ContainsRune(line, 0) || !utf8.ValidString(line) {
			m.lines[i] = ""
			m.complain(i+1, 1, "this line is not UTF-8 text", save)
			return false
		}
	}
	if len(strings.TrimSpace(strings.Join(m.lines[:min(len(m.lines), 100)], ""))) == 0 {
		m.complain(1, 1, "the manifest is empty", "write a line of column names first, such as: file,crimp,string,crew,tool")
		return false
	}
	return true
}

// separator is the one that the line of column names is written with.
func separator(header string) rune {
	best, most := ',', 0
	for _, s := range ",;\t" {
		if n := strings.Count(header, string(s)); n > most {
			best, most = s, n
		}
	}
	return best
}

// read gives the next line that is not empty; nil at the end or after a complaint.
func (m *manifestReader) read() []string {
	for {
		cells, err := m.csv.Read()
		var told *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &told) && errors.Is(err, csv.ErrBareQuote):
			m.complain(told.Line, told.Column, "a quote stands inside a cell that does not begin with one",
				`put the whole cell in quotes and double those inside: "the ""old"" die"`)
			return nil
		case errors.As(err, &told):
			m.complain(told.StartLine, 1, "a quote that opens in this line is not closed as it should be",
				`a cell in quotes ends with a quote and the separator; quotes inside are doubled: "the ""old"" die"`)
			return nil
		case err != nil:
			m.complain(1, 1, "this is not CSV: "+err.Error(), "save it as 'CSV UTF-8' from the table's program")
			return nil
		}
		if slices.ContainsFunc(cells, func(c string) bool { return plain(c) != "" }) {
			return cells
		}
	}
}

// header reads the line of column names. It tells whether the lines below can be read.
func (m *manifestReader) header() bool {
	cells := m.read()
	if len(m.problems) > 0 {
		return false
	}
	seen := map[string]int{}
	for i, cell := range cells {
		name := strings.ToLower(plain(cell))
		m.column = append(m.column, name)
		switch first, twice := seen[name]; {
		case name == "":
		case !slices.Contains(columns, name):
			m.at(i, fmt.Sprintf("unknown column %q", short(cell)), tolerance.Allowed(name, columns))
		case twice:
			m.at(i, fmt.Sprintf("column %q is there twice", name), fmt.Sprintf("it is column %d already: keep one of the two", first))
		default:
			seen[name] = i + 1
		}
	}
	if _, there := seen["file"]; !there && len(m.problems) == 0 {
		m.at(0, "there is no column \"file\" in the first line",
			"begin with a line of column names, separated by comma, semicolon or tab, such as: file,crimp,string,crew,tool")
	}
	return len(m.problems) == 0
}

// body reads the lines below the column names.
func (m *manifestReader) body() {
	for cells := m.read(); cells != nil; cells = m.read() {
		line, _ := m.csv.FieldPos(0)
		r := row{line: line}
		for i, cell := range cells {
			switch {
			case plain(cell) == "":
			case i >= len(m.column):
				m.at(i, fmt.Sprintf("%q stands beyond the last column", short(cell)), fmt.Sprintf("there are %d columns: check the separators and quotes of this line", len(m.column)))
			case m.column[i] == "":
				m.at(i, fmt.Sprintf("%q stands in a column without a name", short(cell)), "name the column in the first line, or take it out")
			default:
				m.cell(&r, i, cell)
			}
		}
		if r.file == "" {
			m.at(0, "this line names no file", "write the picture's file into the column \"file\", or take the line out")
			continue
		}
		m.rows = append(m.rows, r)
	}
}

// cell reads one cell that is not blank.
func (m *manifestReader) cell(r *row, i int, cell string) {
	given := cell
	cell = plain(cell)
	switch m.column[i] {
	case "file":
		m.picture(r, i, given)
	case "view":
		views := []string{string(record.Seam), string(record.Side), string(record.Strip), string(record.Section), string(record.Auto)}
		view := strings.ToLower(cell)
		if !slices.Contains(views, view) {
			m.at(i, fmt.Sprintf("there is no view %q", short(cell)), tolerance.Allowed(view, views))
			return
		}
		r.view = record.View(view)
	case "scale":
		r.scales = m.pairs(i, cell, func(text string) (string, error) {
			s, err := tolerance.ParseScale(text)
			return s.Kind, err
		})
	case "declare":
		r.declare = m.pairs(i, cell, func(text string) (string, error) {
			d, err := tolerance.ParseDeclare(text)
			return d.Key, err
		})
	case "tolerances":
		m.tolerances(r, i, cell)
	case "date":
		if m.date(i, cell) {
			r.label.Date = cell
		}
	case "own_verdict":
		word := strings.ToLower(cell)
		own, known := ownVerdicts[word]
		if !known {
			m.at(i, fmt.Sprintf("there is no own_verdict %q", short(cell)), tolerance.Allowed(word, []string{"good", "bad", "conforms", "does_not_conform"}))
			return
		}
		r.label.Own = own
	default:
		if n := utf8.RuneCountInString(cell); n > maxLabel && m.column[i] != "note" {
			m.at(i, fmt.Sprintf("this %s has %d characters, more than the %d that it may have", m.column[i], n, maxLabel), "write a shorter one")
			return
		}
		*labelField(&r.label, m.column[i]) = cell
	}
}

// picture finds the picture that a line is about; no two lines may be about the same.
func (m *manifestReader) picture(r *row, i int, cell string) {
	r.file, r.picture = cell, m.find.picture(cell)
	key := cmp.Or(r.picture, "\x00"+cell)
	if first, twice := m.first[key]; twice {
		m.at(i, fmt.Sprintf("the picture %q is named twice", short(cell)), fmt.Sprintf("line %d names it already: keep one of the two", first))
		return
	}
	m.first[key] = r.line
}

var ownVerdicts = map[string]record.Result{
	"good": record.Conforms, "conforms": record.Conforms, "bad": record.DoesNotConform, "does_not_conform": record.DoesNotConform,
}

// labelField is the part of a label that is plain text, by the name of its column.
func labelField(l *site.Label, name string) *string {
	return map[string]*string{"string": &l.String, "crimp": &l.Crimp, "crew": &l.Crew, "tool": &l.Tool, "trainee": &l.Trainee, "date": &l.Date, "note": &l.Note}[name]
}

var aroundEquals = regexp.MustCompile(`\s*=\s*`)

// pairs reads NAME=VALUE pairs, separated by blanks or semicolons; a value may be a number, a blank and a unit.
func (m *manifestReader) pairs(i int, cell string, parse func(string) (string, error)) []string {
	var all []string
	for _, word := range strings.Fields(strings.ReplaceAll(aroundEquals.ReplaceAllString(cell, "="), ";", " ")) {
		if len(all) > 0 && !strings.Contains(word, "=") {
			all[len(all)-1] += " " + word
			continue
		}
		all = append(all, word)
	}
	seen := map[string]bool{}
	for n, text := range all {
		key, _, _ := strings.Cut(text, "=")
		all[n] = strings.ToLower(key) + text[len(key):]
		name, err := parse(all[n])
		if err != nil {
			_, err = parse(text) // quoted as it is written
		}
		switch {
		case err != nil:
			what, hint, _ := strings.Cut(err.Error(), "; ")
			m.at(i, what, hint)
		case seen[name]:
			m.at(i, fmt.Sprintf("%q is given twice", name), "keep the right one")
		}
		seen[name] = true
	}
	return all
}

// tolerances reads paths relative to the manifest, separated by semicolons: one file for each view.
func (m *manifestReader) tolerances(r *row, i int, cell string) {
	for _, path := range strings.Split(cell, ";") {
		if path = strings.TrimSpace(path); path == "" {
			continue
		}
		name, err := m.find.tolerances(path)
		if err != nil {
			hint := "paths count from the folder of the manifest; several files are separated by ';'"
			if file := filepath.Base(filepath.FromSlash(strings.ReplaceAll(path, `\`, "/"))); m.find.here != nil && m.find.here(file) {
				hint += fmt.Sprintf("\na file %q lies in the folder from which you call: copy it to the manifest's, or write its whole path", file)
			}
			m.at(i, fmt.Sprintf("tolerances file %q %s", short(path), err), hint)
			continue
		}
		r.tolerances = append(r.tolerances, name)
	}
}

// tomorrow is the last day that can be today somewhere: the clock here may be behind that of the place.
func tomorrow(now func() time.Time) string {
	if now == nil {
		now = time.Now
	}
	return now().AddDate(0, 0, 1).Format(time.DateOnly)
}

// date checks that a date is written as YYYY-MM-DD and is not still to come.
func (m *manifestReader) date(i int, text string) bool {
	if _, err := time.Parse(time.DateOnly, text); err == nil {
		if latest := m.find.latest; latest != "" && text > latest {
			m.at(i, fmt.Sprintf("%s is still to come", text), "write the day on which the crimp was made, as YYYY-MM-DD")
			return false
		}
		return true
	}
	hint := "write the date as YYYY-MM-DD, such as 2026-05-04"
	for _, other := range []string{"2.1.2006", "20060102", "2006/1/2", "2006-1-2"} {
		if day, err := time.Parse(other, text); err == nil {
			hint = "write it as " + day.Format(time.DateOnly)
		}
	}
	m.at(i, fmt.Sprintf("%q is no date that can be read", short(text)), hint)
	return false
}

// short cuts what messages quote.
func short(text string) string {
	const longest = 80
	if runes := []rune(text); len(runes) > longest {
		return string(runes[:longest]) + "..." + strconv.Itoa(len(runes)-longest) + " more"
	}
	return text
}
