package site

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// DoubtTag notes a doubt where the tag in a picture contradicts what the manifest or the file's name says of it. Entry is
// the picture as Group gave it.
func (c *Crimp) DoubtTag(e Entry, file string) {
	switch {
	case e.Tag == "":
	case e.Said != "":
		c.Doubt("the tag in %s says %q, its file's name %q: find out which of the two it is, and rename the file, photograph it beside its own card, "+
			"or scan without --pattern where names do not tell crimps", Quoted(file), e.Tag, e.Said)
	case e.Origin == FromManifest && e.Label.Crimp != "" && !e.Label.Means(e.Tag):
		c.Doubt("the tag in %s says %q, the manifest %q: find out which of the two it is", Quoted(file), e.Tag, e.Label.Name())
	}
}

// Told is what a tag in a picture tells beside the label that the picture has already: the tag, or nothing where it says the
// same.
func (l Label) Told(from Origin, tag string) string {
	if l.Crimp != "" && from != Assumed && l.Means(tag) {
		return ""
	}
	return tag
}

// Means tells whether a tag can mean the crimp of the label: by its name alone or with string and trainee before it, in
// whatever way these are put together. N03-04 means crimp 4 of string N03.
func (l Label) Means(tag string) bool {
	words := spelled(tag)
	for _, parts := range [][]string{{l.Crimp}, {l.String, l.Crimp}, {l.Trainee, l.Crimp}, {l.String, l.Trainee, l.Crimp}, {l.Trainee, l.String, l.Crimp}} {
		if slices.Equal(words, spelled(strings.Join(parts, " "))) {
			return true
		}
	}
	return false
}

// spelled are the words and numbers of a name, without the words for what they number, which people write or leave out.
func spelled(name string) []string {
	var all []string
	for _, word := range wordsOf.FindAllString(strings.ToLower(norm.NFC.String(name)), -1) {
		if word = strings.TrimLeft(word, "0"); word == "" {
			word = "0"
		}
		if !slices.Contains([]string{"string", "trainee", "crimp"}, word) {
			all = append(all, word)
		}
	}
	return all
}

var wordsOf = regexp.MustCompile(`\d+|[^\d\pP\pS\pZ\pC]+`)

// Quoted is the name of a file in quotes, whatever its encoding.
func Quoted(file string) string {
	if !utf8.ValidString(file) {
		file = strings.ToValidUTF8(file, "?")
	}
	return fmt.Sprintf("%q", file)
}

func listed(names []string) string {
	const most = 5
	quoted := []string{}
	for i, name := range names {
		if i == most {
			quoted = append(quoted, fmt.Sprintf("%d more", len(names)-most))
			break
		}
		quoted = append(quoted, Quoted(name))
	}
	last := len(quoted) - 1
	return strings.Join(quoted[:last], ", ") + " and " + quoted[last]
}
