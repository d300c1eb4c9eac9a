// Package terminal says everything that the program tells a person at a terminal, in one place.
//
// What goes where:
//   - Results (tables, verdicts, advice) go to standard output.
//   - Complaints go to standard error, one line each, with the program's name in front, so that a script can keep
//     them apart: "crimprule: PICTURE: what is wrong; what to do next".
//   - Colour only underlines what the words say already. It is used on a terminal only, and never where NO_COLOR is
//     set to anything (https://no-color.org) or TERM is "dumb".
//   - Text from outside (names of files, cameras, tolerances) passes through wording.Clean before it is printed.
package terminal

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"crimprule/internal/wording"
)

// Width is the number of columns that long sentences are wrapped at.
const Width = 100

// Terminal prints to a person. It is not for use from several goroutines.
type Terminal struct {
	out, err io.Writer
	colour   bool
}

// New prints results to out and complaints to err; colour is used where out is a terminal whose user wants it.
func New(out, err io.Writer) *Terminal {
	return &Terminal{out: out, err: err, colour: wantsColour(out, os.LookupEnv)}
}

func wantsColour(out io.Writer, env func(string) (string, bool)) bool {
	file, ok := out.(*os.File)
	if !ok {
		return false
	}
	if value, set := env("NO_COLOR"); set && value != "" {
		return false
	}
	if term, _ := env("TERM"); term == "dumb" {
		return false
	}
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// Complain says on standard error what went wrong, in one line; the program's name stands in front.
func (t *Terminal) Complain(err error) {
	text := strings.TrimRight(err.Error(), "\n")
	// Several lines are meant where a message shows the place in a file; control characters never are.
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = wording.Clean(strings.ReplaceAll(line, "\t", "    "))
	}
	_, _ = fmt.Fprintf(t.err, "crimprule: %s\n", strings.Join(lines, "\n"))
}

// ComplainOfPicture says in one line on standard error why a picture has no record.
func (t *Terminal) ComplainOfPicture(name string, err error) {
	text := strings.Join(strings.Fields(err.Error()), " ")
	if !strings.Contains(text, name) {
		text = name + ": " + text
	}
	_, _ = fmt.Fprintf(t.err, "crimprule: %s\n", wording.Clean(text))
}

// Say prints a line of results.
func (t *Terminal) Say(text string) error {
	_, err := fmt.Fprintln(t.out, text)
	return err
}

// page gathers what belongs together and writes it at once, so that the first error of writing is the one reported.
type page struct {
	w      *bufio.Writer
	colour bool
}

func (t *Terminal) page() *page { return &page{w: bufio.NewWriter(t.out), colour: t.colour} }

func (p *page) line(format string, args ...any) {
	_, _ = fmt.Fprintf(p.w, format, args...)
	_ = p.w.WriteByte('\n')
}

// wrapped prints a sentence behind a label, its further lines under its first word.
func (p *page) wrapped(indent int, label, text string) {
	first := strings.Repeat(" ", indent) + label
	hang := strings.Repeat(" ", utf8.RuneCountInString(first))
	for i, line := range wrap(text, Width-len(hang)) {
		if i == 0 {
			p.line("%s%s", first, line)
		} else {
			p.line("%s%s", hang, line)
		}
	}
}

// wrap breaks text at spaces into lines of at most width characters; a longer word stands alone.
func wrap(text string, width int) []string {
	var lines []string
	line, length := "", 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case line == "":
			line, length = word, n
		case length+1+n <= width:
			line, length = line+" "+word, length+1+n
		default:
			lines = append(lines, line)
			line, length = word, n
		}
	}
	return append(lines, line)
}

// padded fills text with spaces to width characters, behind it or, with right, before it.
func padded(text string, width int, right bool) string {
	fill := strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text)))
	if right {
		return fill + text
	}
	return text + fill
}

// Hint says on standard error, below a complaint, where to read on.
func (t *Terminal) Hint(text string) { _, _ = fmt.Fprintf(t.err, "  %s\n", text) }
