package scan

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"crimprule/internal/site"
)

// plain is a name as it is compared: accents on their letters, and what looks like a blank is one, whatever the program made
// of it that wrote the name; none at the ends.
func plain(text string) string {
	return strings.Join(strings.FieldsFunc(norm.NFC.String(text), func(r rune) bool {
		return unicode.IsSpace(r) || r == '\u200b' || r == '\ufeff' // of no width, and the mark of a text's beginning
	}), " ")
}

var leadingZeros = regexp.MustCompile(`(^|\D)0+(\d)`)

// folded is what names have in common that differ only in capitals and leading zeros.
func folded(name string) string {
	return leadingZeros.ReplaceAllString(strings.ToLower(plain(name)), "$1$2")
}

// mostAlike is how many pairs of names are told of one kind.
const mostAlike = 3

// tellAlike names, kind by kind, names that differ only in capitals, blanks or leading zeros: they are taken for different
// ones, and mostly one of the two is a slip.
func (c *collection) tellAlike() {
	for _, kind := range []struct {
		what string
		of   func(site.Label) (within, name string)
	}{
		{"strings", func(l site.Label) (string, string) { return "", l.String }},
		{"trainees", func(l site.Label) (string, string) { return "", l.Trainee }},
		{"crews", func(l site.Label) (string, string) { return "", l.Crew }},
		{"tools", func(l site.Label) (string, string) { return "", l.Tool }},
		{"crimps", func(l site.Label) (string, string) { return l.String + "\x00" + l.Trainee, l.Crimp }},
	} {
		alike := map[string][]string{}
		var pairs []string
		more := 0
		for _, f := range c.listing.Files {
			within, name := kind.of(f.Label)
			key := within + "\x00" + folded(name)
			if name == "" || slices.Contains(alike[key], name) {
				continue
			}
			alike[key] = append(alike[key], name)
			if n := len(alike[key]); n > 1 {
				if len(pairs) == mostAlike {
					more++
					continue
				}
				pairs = append(pairs, fmt.Sprintf("%q and %q", alike[key][n-2], name))
			}
		}
		if len(pairs) == 0 {
			continue
		}
		text := strings.Join(pairs, ", ")
		if more > 0 {
			text += fmt.Sprintf(" and %d more such pairs", more)
		}
		c.listing.Notes = append(c.listing.Notes, fmt.Sprintf("%s are taken for different %s: where they are the same, write them alike, and scan again", text, kind.what))
	}
}
