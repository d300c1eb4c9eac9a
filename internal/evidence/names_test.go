package evidence

import (
	"encoding/csv"
	"encoding/json"
	"html"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/wording"
)

var (
	elements  = regexp.MustCompile(`<([a-zA-Z][a-zA-Z0-9]*)`)
	addresses = regexp.MustCompile(`(?:href|src)="([^"]*)"`)
)

// TestNamesComeOutRight writes a site full of names that spoil what is careless, and reads every output: pages hold no
// element and no address of theirs, links lead to files that are there, the CSV has no formula, and the JSON has the
// names as they were.
func TestNamesComeOutRight(t *testing.T) {
	v := newInvented(t, len(oddities)+3)
	v.odd = true
	dir, _ := written(t, v)
	info := v.info()

	allowed := []string{"html", "head", "meta", "title", "link", "script", "body", "a", "svg", "defs", "pattern", "path", "symbol", "circle", "rect", "use", "text",
		"header", "h1", "h2", "h3", "h4", "dl", "dt", "dd", "div", "main", "section", "p", "ul", "li", "strong", "span", "details", "summary", "table",
		"thead", "tbody", "tr", "th", "td", "form", "label", "select", "option", "input", "button", "bdi", "img", "footer", "code", "nav", "figure",
		"figcaption", "caption"}
	for _, name := range []string{"index.html", "crimps/0001.html", "crimps/0003.html", "crimps/0018.html", "crimps/0020.html"} {
		page := read(t, dir, name)
		assert.True(t, utf8.ValidString(page), name)
		for _, m := range elements.FindAllStringSubmatch(page, -1) {
			assert.Contains(t, allowed, strings.ToLower(m[1]), name)
		}
		assert.Equal(t, 1, strings.Count(page, "<script"), "%s: its own script only", name)
		assert.NotRegexp(t, `<[^>]* on[a-z]+=`, page, name)
		for _, m := range addresses.FindAllStringSubmatch(page, -1) {
			address := html.UnescapeString(m[1])
			u, err := url.Parse(address)
			require.NoError(t, err, address)
			assert.Empty(t, u.Scheme+u.Host, address)
			if u.Path != "" {
				_, err := os.Stat(filepath.Join(dir, filepath.Dir(name), filepath.FromSlash(u.Path)))
				assert.NoError(t, err, "%s: %s", name, address)
			}
		}
	}
	for i, name := range oddities {
		page := read(t, dir, "crimps", strconv.Itoa(10000 + i + 1)[1:]+".html")
		want := html.EscapeString(wording.Clean(name))
		if name != "" {
			text := regexp.MustCompile(`<bdi>(.*?)</bdi></h1>`).FindStringSubmatch(page)
			require.NotNil(t, text)
			assert.Contains(t, html.UnescapeString(text[1]), html.UnescapeString(want))
		}
	}
	assert.Contains(t, read(t, dir, "index.html"), html.EscapeString(info.Title))

	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(read(t, dir, "crimps.csv"), byteOrderMark))).ReadAll()
	require.NoError(t, err)
	numbers := []string{"value", "u", "min", "max", "aim", "score", "crimp_score", "number"}
	for _, row := range rows {
		require.Len(t, row, len(columns))
		for i, cell := range row {
			if cell == "" {
				continue
			}
			if slices.Contains(numbers, columns[i]) && &row[0] != &rows[0][0] {
				_, err := strconv.ParseFloat(cell, 64)
				assert.NoError(t, err, "%s: %q", columns[i], cell)
				continue
			}
			assert.NotContains(t, "=+-@\t\r", cell[:1], "%s: %q", columns[i], cell)
			assert.NotContains(t, cell, "\n", "ends of lines are visible")
		}
	}

	names := map[string]bool{}
	decoder := json.NewDecoder(strings.NewReader(read(t, dir, "records.jsonl")))
	for decoder.More() {
		var line struct{ Label struct{ Crimp string } }
		require.NoError(t, decoder.Decode(&line))
		names[line.Label.Crimp] = true
	}
	for _, name := range oddities {
		assert.True(t, names[strings.ToValidUTF8(name, "\ufffd")], "%q", name)
	}

	text := pdfText(t, filepath.Join(dir, "evidence.pdf"))
	assert.Contains(t, text, "<script>document.title='broken'</script>")
	assert.Contains(t, text, "стрелка Ω ğüş", "the typeface has Cyrillic and Greek")
	assert.Contains(t, strings.Join(strings.Fields(text), ""), `\u4e2d\u6587\u540d\u79f0`, "it has no Chinese")
	assert.Contains(t, strings.Join(strings.Fields(text), " "), "the typeface of this document lacks a character")

	r, err := Verify(dir)
	require.NoError(t, err)
	assert.True(t, r.Whole(), "%+v", r)
}

// TestLink: what has a meaning in URLs is escaped, and the folders stay folders.
func TestLink(t *testing.T) {
	assert.Equal(t, "originals/100%25%2341%3Fx%20%22.jpg", link(`originals/100%#41?x ".jpg`))
	assert.Equal(t, "a/%0A/%FF", link("a/\n/\xff"))
}
