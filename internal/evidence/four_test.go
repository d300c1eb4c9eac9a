package evidence

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// told is what one output says of a crimp: its result, its score, and each value as text.
type told struct {
	name, result, score string
	values              []string // "file key value", sorted
}

// TestFourOutputsTellTheSame reads the page, the PDF, the CSV and the JSON lines, each by itself, and holds them against
// each other and against the scan: results, scores, counts and every value.
func TestFourOutputsTellTheSame(t *testing.T) {
	for _, plain := range []bool{false, true} {
		v := newInvented(t, 110)
		v.plain = plain
		dir, _ := written(t, v)
		want := fromScan(t, v)
		assert.Equal(t, want, fromCSV(t, dir), "CSV")
		assert.Equal(t, want, fromLines(t, dir), "JSON lines")
		assert.Equal(t, want, fromPages(t, dir, len(want)), "pages")
		holdPDF(t, dir, want, pdfText(t, filepath.Join(dir, "evidence.pdf")))
		if _, err := exec.LookPath("pdftotext"); err == nil {
			text, err := exec.Command("pdftotext", "-raw", filepath.Join(dir, "evidence.pdf"), "-").Output()
			require.NoError(t, err)
			holdPDF(t, dir, want, string(text))
		}
		counts(t, dir, want)
	}
}

func fromScan(t *testing.T, v *invented) []told {
	var all []told
	require.NoError(t, v.Crimps(context.Background(), func(c site.Crimp) error {
		one := told{name: c.Name(), result: string(c.Result)}
		if c.Result != "" && (c.Result != record.NotMeasured || c.Score > 0) { // a picture that came to nothing has no score
			one.score = strconv.FormatFloat(c.Score, 'f', 1, 64)
		}
		for _, p := range c.Pictures {
			if p.Record != nil {
				for key, value := range p.Record.Measured {
					one.values = append(one.values, p.File+" "+string(key)+" "+wording.Quantity(value))
				}
			}
		}
		for _, e := range c.Elsewhere {
			one.values = append(one.values, "elsewhere "+string(e.Key)+" "+wording.Quantity(e.Value))
		}
		slices.Sort(one.values)
		all = append(all, one)
		return nil
	}))
	return all
}

// quantity puts value, u and unit as the CSV has them together as they are printed.
func quantity(t *testing.T, value, u, unit string) string {
	v, err := strconv.ParseFloat(value, 64)
	require.NoError(t, err)
	uv, err := strconv.ParseFloat(u, 64)
	require.NoError(t, err)
	text := wording.Quantity(record.Value{Value: v, U: uv, Unit: unit})
	require.Contains(t, text, value, "the CSV has the same digits")
	return text
}

func fromCSV(t *testing.T, dir string) []told {
	data, found := strings.CutPrefix(read(t, dir, "crimps.csv"), "\ufeff")
	require.True(t, found, "a byte order mark")
	rows, err := csv.NewReader(strings.NewReader(data)).ReadAll()
	require.NoError(t, err)
	at := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	var all []told
	for _, row := range rows[1:] {
		n, err := strconv.Atoi(at(row, "number"))
		require.NoError(t, err)
		if n > len(all) {
			all = append(all, told{name: at(row, "crimp"), result: at(row, "crimp_result"), score: at(row, "crimp_score")})
		}
		if at(row, "value") == "" {
			assert.NotEmpty(t, at(row, "reason"), row)
			continue
		}
		file := at(row, "file")
		if at(row, "source") == "elsewhere" {
			file = "elsewhere"
		}
		one := &all[n-1]
		one.values = append(one.values, file+" "+at(row, "key")+" "+quantity(t, at(row, "value"), at(row, "u"), at(row, "unit")))
	}
	for i := range all {
		slices.Sort(all[i].values)
	}
	return all
}

func fromLines(t *testing.T, dir string) []told {
	var all []told
	decoder := json.NewDecoder(strings.NewReader(read(t, dir, "records.jsonl")))
	for decoder.More() {
		var line struct {
			Number    int
			Crimp     string
			Result    string
			Score     *float64
			Picture   *site.Picture
			Elsewhere []site.Elsewhere
		}
		require.NoError(t, decoder.Decode(&line))
		if line.Number > len(all) {
			one := told{name: line.Crimp, result: line.Result}
			if line.Score != nil {
				one.score = strconv.FormatFloat(*line.Score, 'f', 1, 64)
			}
			all = append(all, one)
		}
		one := &all[line.Number-1]
		if line.Picture != nil && line.Picture.Record != nil {
			for key, value := range line.Picture.Record.Measured {
				one.values = append(one.values, line.Picture.File+" "+string(key)+" "+wording.Quantity(value))
			}
		}
		for _, e := range line.Elsewhere {
			one.values = append(one.values, "elsewhere "+string(e.Key)+" "+wording.Quantity(e.Value))
		}
		slices.Sort(one.values)
	}
	return all
}

var (
	tags        = regexp.MustCompile(`<[^>]*>`)
	titleOf     = regexp.MustCompile(`<h1><span class="number">\d+</span> <bdi>(.*?)</bdi></h1>`)
	verdictOf   = regexp.MustCompile(`<p class="verdict"><span class="badge (\w+)">.*?</span>(?:, score ([\d.]+) of 100|, score –)</p>`)
	valueOf     = regexp.MustCompile(`<td role="cell" class="value" data-key="(\w+)">(.*?)</td>`)
	fileOf      = regexp.MustCompile(`<dt>file</dt><dd><bdi>(.*?)</bdi>`)
	listRowOf   = regexp.MustCompile(`(?s)<tr role="row" id="c(\d+)".*?</tr>`)
	resultNames = map[string]string{"not_judged": ""}
)

// fromPages reads the pages of the crimps, and holds the list against them.
func fromPages(t *testing.T, dir string, n int) []told {
	listed := map[string]string{}
	for _, m := range listRowOf.FindAllStringSubmatch(read(t, dir, "index.html"), -1) {
		listed[m[1]] = html.UnescapeString(tags.ReplaceAllString(m[0], " "))
	}
	assert.Len(t, listed, n)
	var all []told
	for i := 1; i <= n; i++ {
		page := read(t, dir, fmt.Sprintf("crimps/%04d.html", i))
		verdict := verdictOf.FindStringSubmatch(page)
		require.NotNil(t, verdict, page)
		result, renamed := resultNames[verdict[1]]
		if !renamed {
			result = verdict[1]
		}
		one := told{name: html.UnescapeString(titleOf.FindStringSubmatch(page)[1]), result: result, score: verdict[2]}
		for _, section := range strings.Split(page, "<section ")[1:] {
			file := "elsewhere"
			if m := fileOf.FindStringSubmatch(section); m != nil {
				file = html.UnescapeString(m[1])
			}
			for _, m := range valueOf.FindAllStringSubmatch(section, -1) {
				if m[2] != "–" {
					one.values = append(one.values, file+" "+m[1]+" "+html.UnescapeString(m[2]))
				}
			}
		}
		slices.Sort(one.values)
		all = append(all, one)

		row := listed[strconv.Itoa(i)]
		assert.Contains(t, row, one.name)
		assert.Contains(t, row, wording.Result(record.Result(one.result)))
		assert.Contains(t, row, cmp.Or(one.score, "–"))
	}
	return all
}

// holdPDF finds every crimp in the text of the PDF and holds the numbers of its row against the values: each number there
// must be one of the crimp's.
func holdPDF(t *testing.T, dir string, want []told, text string) {
	text = strings.Join(strings.Fields(strings.ReplaceAll(text, "\u00a0", " ")), " ")
	limits, reasons := limitsOf(t, dir)
	pageFurniture := regexp.MustCompile(`Solar canopy, ferry terminal <north>; crimprule 0\.5 \(test\), 2026-05-04 16:30 \+02:00 page \d+ of \d+|` +
		`[A-Z][a-z :,]+, continued no\. crimp result worst feature, and the values`)
	text = pageFurniture.ReplaceAllString(text, "")
	chapter := regexp.MustCompile(`[A-Z][a-z :,]+: \d+ crimps? no\. crimp result worst feature, and the values`)
	table := text[chapter.FindStringIndex(text)[0]:]
	table = table[:strings.Index(table, "Tolerances: ")]
	table, _, _ = strings.Cut(table, refusalsHead)
	table, _, _ = strings.Cut(table, failuresHead)
	table = chapter.ReplaceAllString(table, "")
	start := regexp.MustCompile(`(\d+) string \d+ / crimp (\d+) `)
	places := start.FindAllStringSubmatchIndex(table, -1)
	require.Len(t, places, len(want))
	for i, place := range places {
		end := len(table)
		if i+1 < len(places) {
			end = places[i+1][0]
		}
		n, err := strconv.Atoi(table[place[2]:place[3]])
		require.NoError(t, err)
		one := want[n-1]
		block := table[place[1]:end]
		if one.result != "" {
			score := "score " + cmp.Or(one.score, "–")
			require.Contains(t, block, wording.Result(record.Result(one.result))+" "+score)
			block = strings.Replace(block, score, "", 1)
		}
		shown := 0
		for _, quantity := range quantities(one.values) {
			// A number that is a part of a longer one is not meant.
			at := regexp.MustCompile(` ` + regexp.QuoteMeta(quantity) + `(?:[; ,]|$)`).FindStringIndex(block)
			if elsewhere := slices.ContainsFunc(one.values, func(v string) bool { return strings.HasPrefix(v, "elsewhere ") && strings.HasSuffix(v, " "+quantity) }); elsewhere {
				assert.NotNil(t, at, "crimp %d: %s, measured elsewhere, is not in the PDF: %s", n, quantity, block)
			}
			if at != nil {
				block = block[:at[0]] + " " + block[at[0]+1+len(quantity):]
				shown++
			}
		}
		if len(one.values) > 0 {
			assert.GreaterOrEqual(t, shown, min(2, len(one.values)), "crimp %d: %s", n, block)
		}
		for _, known := range append(limits, reasons...) {
			block = strings.ReplaceAll(block, known, "")
		}
		block = regexp.MustCompile(`\(elsewhere, by [^)]*\d{4}-\d\d-\d\d`).ReplaceAllString(block, "")
		block = regexp.MustCompile(`crew [A-Z], tool \d|and \d+ more`).ReplaceAllString(block, "")
		assert.NotRegexp(t, `\d`, block, "crimp %d: a number that is none of its own", n)
	}
}

// quantities are the values without file and key, the longest first.
func quantities(values []string) []string {
	var all []string
	for _, value := range values {
		if at := strings.Index(value, ".jpg "); at >= 0 {
			value = value[at+len(".jpg "):]
		}
		value = strings.TrimPrefix(value, "elsewhere ")
		_, quantity, _ := strings.Cut(value, " ")
		all = append(all, quantity)
	}
	slices.SortFunc(all, func(a, b string) int { return len(b) - len(a) })
	return all
}

// limitsOf are the limits and the reasons that the CSV names, as the PDF writes them.
func limitsOf(t *testing.T, dir string) (limits, reasons []string) {
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(read(t, dir, "crimps.csv"), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	at := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	for _, row := range rows[1:] {
		low, high := at(row, "min"), at(row, "max")
		switch {
		case low != "" && low == high:
			limits = append(limits, "(exactly "+low)
		case low != "" && high != "":
			limits = append(limits, "("+low+" to "+high)
		case low != "":
			limits = append(limits, "(at least "+low)
		case high != "":
			limits = append(limits, "(at most "+high)
		}
		if reason := at(row, "reason"); reason != "" {
			reasons = append(reasons, reason)
		}
	}
	slices.Sort(limits)
	slices.Sort(reasons)
	return slices.Compact(limits), slices.Compact(reasons)
}

// counts holds the numbers over all crimps in the page and in the PDF against the crimps themselves.
func counts(t *testing.T, dir string, want []told) {
	page := strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(read(t, dir, "index.html"), " "))), " ")
	pdf := strings.Join(strings.Fields(pdfText(t, filepath.Join(dir, "evidence.pdf"))), " ")
	found := map[string]int{}
	for _, one := range want {
		found[one.result]++
	}
	for result, n := range found {
		words := wording.Result(record.Result(result))
		if result == "" {
			words = "not judged"
		}
		assert.Contains(t, page, fmt.Sprintf("%d %s", n, words))
		assert.Contains(t, pdf, fmt.Sprintf("%d %s", n, words))
	}
	yield := regexp.MustCompile(`All crimps: ([^.;]*\.?[^;]*?(?:of \d+|none judged[^;]*?0 of 0))`).FindStringSubmatch(page)
	require.NotNil(t, yield)
	assert.Contains(t, pdf, yield[1])
	judged := found["conforms"] + found["does_not_conform"] + found["not_proven"]
	assert.Contains(t, yield[1], fmt.Sprintf("%d of %d", found["conforms"], judged))
}

var (
	streams = regexp.MustCompile(`(?s)/Filter /FlateDecode /Length (\d+)>>\nstream\n`)
	shows   = regexp.MustCompile(`(?s)\(((?:[^\\()]|\\.)*)\) ?Tj`)
)

// pdfText reads the text of a PDF as its content streams show it, piece by piece, without any PDF reader: the streams are
// deflated, and text in an embedded typeface is UTF-16 (ISO 32000-1, 7.3.4 and 9.4).
func pdfText(t *testing.T, path string) string {
	data := []byte(read(t, path))
	var b strings.Builder
	for _, m := range streams.FindAllSubmatchIndex(data, -1) {
		length, err := strconv.Atoi(string(data[m[2]:m[3]]))
		require.NoError(t, err)
		r, err := zlib.NewReader(bytes.NewReader(data[m[1] : m[1]+length]))
		if err != nil {
			continue
		}
		content, err := io.ReadAll(r)
		require.NoError(t, err)
		for _, show := range shows.FindAllSubmatch(content, -1) {
			b.WriteString(utf16Text(unescaped(show[1])) + "\n")
		}
	}
	require.NotZero(t, b.Len(), "text was found")
	return b.String()
}

func unescaped(text []byte) []byte {
	var out []byte
	for i := 0; i < len(text); i++ {
		if text[i] == '\\' && i+1 < len(text) {
			i++
			if text[i] == 'r' {
				out = append(out, '\r')
				continue
			}
		}
		out = append(out, text[i])
	}
	return out
}

func utf16Text(b []byte) string {
	units := make([]uint16, len(b)/2)
	for i := range units {
		units[i] = uint16(b[2*i])<<8 | uint16(b[2*i+1])
	}
	return string(utf16.Decode(units))
}
