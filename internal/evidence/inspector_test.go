package evidence

import (
	"context"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/advice"
	"crimprule/internal/site"
	"crimprule/internal/statistics"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// some is a site of given crimps.
type some []site.Crimp

func (s some) Crimps(_ context.Context, each func(site.Crimp) error) error {
	for i, c := range s {
		c.Number = i + 1
		if err := each(c); err != nil {
			return err
		}
	}
	return nil
}

func sure(view record.View, result record.Result, value float64) site.Crimp {
	c := site.Crimp{Label: site.Label{String: "north", Crimp: string(view), Crew: "crew A"}, Pictures: []site.Picture{judgedPicture(view, result, feature(result, value, 90))}}
	c.Settle(true)
	return c
}

func pageText(page string) string {
	return strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(page, " "))), " ")
}

func pdfWords(t *testing.T, dir string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(pdfText(t, filepath.Join(dir, "evidence.pdf")), "\u00a0", " ")), " ")
}

// TestStrippedWiresAreNoCrimps: they stand beside the crimps in every heading and count, and in no yield and no lot.
func TestStrippedWiresAreNoCrimps(t *testing.T) {
	strip, badStrip := sure(record.Strip, record.Conforms, 0.9), sure(record.Strip, record.DoesNotConform, 0.5)
	badStrip.Label.Crew = "crew of strippers"
	src := some{sure(record.Seam, record.Conforms, 0.95), strip, sure(record.Section, record.Conforms, 0.9), badStrip, sure(record.Side, record.DoesNotConform, 0.6), strip}
	info := newInvented(t, 0).info()
	info.Lot = &Lot{Size: 3, AQL: 10}
	dir := t.TempDir()
	s, err := Write(context.Background(), dir, info, src)
	require.NoError(t, err)
	assert.Equal(t, []int{3, 3, 1, 2}, []int{s.Crimps, s.Wires, s.Conforming - 1, s.Judged - 1}, "sections are crimps")
	assert.Equal(t, map[record.Result]int{record.Conforms: 2, record.DoesNotConform: 1}, s.Results)
	assert.NotContains(t, s.Lot.Head, "true size", "three crimps fit into a lot of three")
	page, pdf := pageText(read(t, dir, "index.html")), pdfWords(t, dir)
	for what, text := range map[string]string{"page": page, "PDF": pdf} {
		assert.Contains(t, text, "3 crimps (1 of them a section), 3 stripped wires", what)
		assert.Contains(t, text, "1 DOES NOT CONFORM and 1 stripped wire", what)
		assert.Contains(t, text, "2 conforms and 2 stripped wires", what)
		assert.Contains(t, text, "66.7 % (9.4 to 99.2 %), 2 of 3", what)
		assert.Contains(t, text, "a stripped wire: no crimp yet", what)
		assert.Contains(t, text, "a section: this crimp is spent", what)
		assert.Contains(t, text, "1 crimp must be made anew, 1 wire must be stripped anew", what)
	}
	assert.Contains(t, pdf, "Does not conform: to be made anew: 1 crimp no.")
	assert.Contains(t, pdf, "Does not conform: to be stripped anew: 1 stripped wire no.")
	assert.NotContains(t, regexp.MustCompile(`(?s)id="yield".*?</section>`).FindString(read(t, dir, "index.html")), "strippers")
	assert.Contains(t, read(t, dir, "index.html"), `<option value="crew of strippers">`, "and can be looked for")
	assert.Contains(t, read(t, dir, "crimps/0002.html"), "<p>a stripped wire: no crimp yet</p>")
}

func TestTallyInWords(t *testing.T) {
	for want, t1 := range map[string]tally{
		"0 crimps": {}, "1 crimp": {Crimps: 1}, "15 crimps, 4 stripped wires": {Crimps: 15, Wires: 4}, "1 stripped wire": {Wires: 1}, "1 section": {Crimps: 1, Sections: 1},
		"2 sections, 1 stripped wire": {Crimps: 2, Sections: 2, Wires: 1}, "5 crimps (1 of them a section, 2 without a picture)": {Crimps: 5, Sections: 1, Pieces: 2}, "5 crimps (2 of them sections)": {Crimps: 5, Sections: 2},
	} {
		assert.Equal(t, want, t1.String())
	}
}

// TestNothingSpeaksAgainstItOnlyWhereEverythingIsKnown: each thing that is open takes that sentence away.
func TestNothingSpeaksAgainstItOnlyWhereEverythingIsKnown(t *testing.T) {
	good := sure(record.Seam, record.Conforms, 0.95)
	with := func(change func(c *site.Crimp)) site.Crimp {
		c := sure(record.Seam, record.Conforms, 0.95)
		change(&c)
		c.Settle(true)
		return c
	}
	for name, c := range map[string]struct {
		crimp site.Crimp
		head  string
		more  string
	}{
		"all is well": {good, "Nothing in these pictures speaks against it", ""},
		"a doubt": {with(func(c *site.Crimp) { c.Doubt("a copy") }), "Not on these pictures: 1 is not proven.",
			"1 crimp is in doubt: a person must settle what stands on its page; until then it is not proven to be good, whatever the pictures show."},
		"a remark": {with(func(c *site.Crimp) { c.Warn("the crew is both A and B") }), "Not on these pictures alone: a person must look into what is noted on 1 page of crimps first.",
			"1 crimp has a remark that a person must look into: see its page."},
		"no limits for a view": {with(func(c *site.Crimp) { c.Pictures = append(c.Pictures, seen(record.Side)) }),
			"Not on these pictures: 1 was not judged, since there were no limits for it.", ""},
		"a picture that could not be read, of unknown view": {with(func(c *site.Crimp) { c.Pictures = append(c.Pictures, site.Picture{Failure: "f"}) }),
			"Not on these pictures: 1 was not measured for want of its file or of a declaration.", ""},
		"a picture that could not be read, taken again": {with(func(c *site.Crimp) {
			c.Pictures = append(c.Pictures, site.Picture{Failure: "f", Asked: record.Seam})
		}), "Not on these pictures: 1 picture could not be read.", ""},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBook(Info{})
			for i, one := range []site.Crimp{good, c.crimp} {
				one.Number = i + 1
				b.take(one)
			}
			a := b.answer()
			assert.True(t, strings.HasPrefix(a.Head, c.head), a.Head)
			if a.Clear {
				b.info.Notes = []string{"a list was not read"}
				assert.Equal(t, "Not on these pictures alone: a person must look into 1 note on files and names first.", b.answer().Head)
			}
			assert.Equal(t, name == "all is well", a.Clear)
			assert.Contains(t, strings.Join(a.More, " "), c.more)
			assert.NotContains(t, strings.Join(a.More, " "), "contradiction")
		})
	}
}

// TestAPageOpensWithItsReason: a crimp whose first picture conforms says in its head why it is not proven, the doubts stand
// before the remarks, and what was not measured has no score.
func TestAPageOpensWithItsReason(t *testing.T) {
	good, unsure := judgedPicture(record.Seam, record.Conforms, feature(record.Conforms, 0.95, 90)), judgedPicture(record.Side, record.NotProven, feature(record.NotProven, 0.85, 50))
	late := site.Crimp{Label: site.Label{Crimp: "1"}, Pictures: []site.Picture{good, unsure}}
	doubted := site.Crimp{Label: site.Label{Crimp: "2"}, Pictures: []site.Picture{good}, Warnings: []string{"the crew is both A and B"}, Doubts: []string{"the tag says <7>"}}
	unread := site.Crimp{Label: site.Label{Crimp: "3"}, Pictures: []site.Picture{{Failure: "copy it again"}}}
	for _, c := range []*site.Crimp{&late, &doubted, &unread} {
		c.Settle(true)
	}
	dir := t.TempDir()
	s, err := Write(context.Background(), dir, newInvented(t, 0).info(), some{late, doubted, unread})
	require.NoError(t, err)
	assert.Equal(t, []int{1, 1}, []int{s.Doubted, s.Warned}, "each counts for itself")
	head := func(name string) string {
		page := read(t, dir, name)
		return pageText(page[strings.Index(page, "<main"):strings.Index(page, `<section class="picture"`)])
	}
	assert.Contains(t, head("crimps/0001.html"), "Why: symmetry of left and right 0.850 ± 0.010 (at least 0.85) To do: ")
	assert.Regexp(t, `Why: the tag says <7> To do: settle the doubt.*Why this crimp is in doubt the tag says <7> A person must look into this the crew is both A and B`, head("crimps/0002.html"))
	assert.Contains(t, head("crimps/0003.html"), "not measured , score – Why: copy it again")
	assert.Contains(t, pageText(read(t, dir, "index.html")), "score – copy it again")
	assert.Contains(t, pdfWords(t, dir), "not measured score –")
	assert.Contains(t, pdfWords(t, dir), "IN DOUBT, REMARK, see its page")
	assert.Regexp(t, `(?m)^3,'?3,,,,,,,not_measured,,`, read(t, dir, "crimps.csv"))
	assert.Contains(t, read(t, dir, "crimps.csv"), ",the tag says <7>,the crew is both A and B\r\n")
	assert.Contains(t, read(t, dir, "records.jsonl"), `"doubts":["the tag says <7>"],"warnings":["the crew is both A and B"]`)
	assert.NotContains(t, read(t, dir, "records.jsonl"), `"score":0,"picture"`)
}

// TestCautionsFitWhatWasMeasured: nobody is told of etchants who has no section, nor of stripped ends who has none.
func TestCautionsFitWhatWasMeasured(t *testing.T) {
	all := advice.Cautions()
	for view, n := range map[record.View]int{record.Seam: len(all) - 3, record.Strip: len(all) - 2, record.Section: len(all) - 1} {
		dir := t.TempDir()
		info := newInvented(t, 0).info()
		info.Views = []record.View{record.Seam, record.Side, record.Strip, record.Section}
		_, err := Write(context.Background(), dir, info, some{sure(view, record.Conforms, 0.9)})
		require.NoError(t, err)
		page, crimp, pdf := pageText(read(t, dir, "index.html")), pageText(read(t, dir, "crimps/0001.html")), pdfWords(t, dir)
		found := 0
		for _, caution := range all {
			if strings.Contains(page, caution) {
				found++
			}
		}
		assert.Equal(t, n, found, view)
		assert.Equal(t, view == record.Section, strings.Contains(page, "etchant"), view)
		assert.Equal(t, view == record.Section, strings.Contains(pdf, "A section destroys its crimp"), view)
		assert.Equal(t, view == record.Section, strings.Contains(crimp, "A section destroys its crimp"), view)
		assert.Equal(t, view == record.Strip, strings.Contains(crimp, "A stripped end is no crimp yet"), view)
	}
}

// TestTolerancesInThePDFAreATable: every limit stands in it with its unit, no comment of the file does, and two files need
// no more than two pages. The cover has a place for who checked it.
func TestTolerancesInThePDFAreATable(t *testing.T) {
	text := "# a comment that fills a page\nname: bench\nconfidence: 0.9\npart: {wire: 4 mm², contact: pin, strand_diameter: 0.3 mm}\n" +
		"limits:\n  bend: {max: 3 deg, note: a note}\n  insulation_gap_mean: {min: 0.3 mm, max: 1.2 mm, aim: 0.7 mm}\nelsewhere:\n  pull_out_force: {min: 310 N}\n"
	limits, err := tolerance.Parse("bench.yaml", []byte(text))
	require.NoError(t, err)
	info := newInvented(t, 0).info()
	info.Tolerances = append(info.Tolerances, Tolerances{Hash: hashOf(text), Name: "bench", File: "bench.yaml", Text: text, Limits: limits})
	dir := t.TempDir()
	_, err = Write(context.Background(), dir, info, some{sure(record.Seam, record.Conforms, 0.95)})
	require.NoError(t, err)
	pdf := pdfWords(t, dir)
	at := strings.Index(pdf, "Tolerances: bench")
	require.Positive(t, at)
	table := pdf[at:]
	assert.Contains(t, table, "bench.yaml, in this evidence as tolerances/"+hashOf(text)[:12]+"-bench.yaml SHA-256 "+hashOf(text))
	assert.Contains(t, table, "confidence 90 % for a decision part wire 4 mm²; contact pin; strand diameter 0.3 mm")
	assert.Contains(t, table, "measurand min max aim note bend between sleeve and contact body – 3° – a note")
	assert.Regexp(t, `0\.3 mm 1\.2 mm 0\.7 mm`, table)
	assert.Regexp(t, `Measured elsewhere measurand min max aim note pull-out force 310 N – –`, table)
	assert.NotContains(t, pdf, "fills a page")
	assert.Contains(t, pdf, "checked by date signature")
	assert.LessOrEqual(t, strings.Count(pdf, " of {nb}")+strings.Count(read(t, dir, "evidence.pdf"), "/Type /Page\n"), 5, "cover, cautions, one crimp, two pages of tolerances")
}

// TestLotLeavesWiresOut: a lot is judged by its crimps alone.
func TestLotLeavesWiresOut(t *testing.T) {
	b := bookOf(map[record.Result]int{record.Conforms: 50}, site.Label{})
	b.info.Lot = &Lot{Size: 500, AQL: 1}
	for range 5 {
		c := sure(record.Strip, record.DoesNotConform, 0.5)
		c.Number = len(b.rows) + 1
		b.take(c)
	}
	assert.Equal(t, statistics.Accepted, b.lot().Outcome)
}

// TestEmptyFolders: none stays in evidence that is written, and one that was added since is named.
func TestEmptyFolders(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "overlays", "deep", "deeper"), 0o755))
	_, err := Write(context.Background(), dir, newInvented(t, 1).info(), newInvented(t, 1))
	require.NoError(t, err)
	assert.NoDirExists(t, filepath.Join(dir, "overlays"))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "crimps", "more", "and more"), 0o755))
	r, err := Verify(dir)
	require.NoError(t, err)
	assert.False(t, r.Whole())
	assert.Equal(t, []string{"crimps/more/", "crimps/more/and more/"}, r.Additional)
}
