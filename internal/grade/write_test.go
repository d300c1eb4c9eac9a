package grade

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"html"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
	"crimprule/vision/record"
)

// sheets writes the evidence of a workshop with its sheets. KEEP names a folder to keep it in, for looking at it.
func sheets(t testing.TB, w *workshop, mark Mark) (string, Report) {
	dir := t.TempDir()
	if keep := os.Getenv("KEEP"); keep != "" {
		dir = filepath.Join(keep, t.Name())
	}
	r := graded(t, w, mark)
	for _, c := range w.crimps {
		for _, p := range c.Pictures {
			if p.Overlay != "" {
				require.NoError(t, os.MkdirAll(filepath.Join(dir, "overlays"), 0o755))
				require.NoError(t, imaging.Save(imaging.New(1600, 1000, color.Gray{uint8(40 + 20*c.Number%200)}), filepath.Join(dir, p.Overlay)))
			}
		}
	}
	_, err := evidence.Write(context.Background(), dir, workshopInfo(), w, func(dir string) error { return Write(dir, workshopInfo(), r) })
	require.NoError(t, err)
	return dir, r
}

func read(t testing.TB, dir, name string) string {
	data, err := os.ReadFile(filepath.Join(dir, Folder, name))
	require.NoError(t, err)
	return string(data)
}

// text is what a reader of a page reads: tags taken out, entities put back.
func text(page string) string {
	page = regexp.MustCompile(`(?s)<[^>]*>`).ReplaceAllString(page, " ")
	return strings.Join(strings.Fields(html.UnescapeString(page)), " ")
}

// TestSheetsLeadSomewhere: the evidence is whole with the sheets in it, and every link in them leads to a file of it.
func TestSheetsLeadSomewhere(t *testing.T) {
	dir, r := sheets(t, twelve(t), Mark{Row: 5, Score: 70})
	checked, err := evidence.Verify(dir)
	require.NoError(t, err)
	assert.True(t, checked.Whole(), "%+v", checked)
	links := regexp.MustCompile(`(?:href|src)="([^"#]+)"`)
	for _, name := range []string{"index.html", "01.html", "02.html", "04.html", "06.html"} {
		found := links.FindAllStringSubmatch(read(t, dir, name), -1)
		assert.Greater(t, len(found), 4, name)
		for _, link := range found {
			assert.FileExists(t, filepath.Join(dir, Folder, filepath.FromSlash(link[1])), "%s in %s", link[1], name)
		}
	}
	assert.Len(t, r.Trainees, 6)
	assert.NoFileExists(t, filepath.Join(dir, Folder, "07.html"))
}

// TestSheetsSayTheSame: page, PDF and JSON of a trainee have the same numbers, and each sheet its caution.
func TestSheetsSayTheSame(t *testing.T) {
	mark := Mark{Row: 5, Score: 70}
	dir, r := sheets(t, twelve(t), mark)
	var back Report
	require.NoError(t, json.Unmarshal([]byte(read(t, dir, "grade.json")), &back))
	for i, one := range r.Trainees {
		page := text(read(t, dir, sheetName(i, "html")))
		for _, want := range []string{
			one.Called(), one.Words(mark), Caution, one.Yield.Text(), one.Score.Text(), one.Agreement.Words(), one.ProgressWords(), FewCrimps(),
			fmt.Sprintf("%d conform, %d do not conform, %d not proven, %d not measured", one.Conforming, one.NotConform, one.NotProven, one.NotMeasured),
		} {
			assert.True(t, strings.Contains(page, want), "%s: %q", one.Name, want)
		}
		for _, c := range one.Crimps {
			assert.True(t, strings.Contains(page, c.Name), c.Name)
		}
		assert.Equal(t, one.Name != "", strings.Contains(page, one.RowWords()), one.Name)
		assert.Equal(t, one.Row, back.Trainees[i].Row)
		assert.Equal(t, one.Yield, back.Trainees[i].Yield)
		assert.Contains(t, text(read(t, dir, "index.html")), one.Yield.Text())
		samePDF(t, dir, i, one, mark)
	}
	assert.Contains(t, text(read(t, dir, "index.html")), Caution)
}

// samePDF reads the PDF with poppler's pdftotext, a general-purpose program, where that is installed.
func samePDF(t *testing.T, dir string, i int, one Trainee, mark Mark) {
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		return
	}
	out, err := exec.Command(program, "-raw", filepath.Join(dir, Folder, sheetName(i, "pdf")), "-").Output()
	require.NoError(t, err)
	pdf := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{one.Words(mark), Caution, one.Yield.Text(), one.Score.Text(), one.Agreement.Words(), one.ProgressWords(), FewCrimps()} {
		assert.True(t, strings.Contains(pdf, strings.Join(strings.Fields(want), " ")), "%s: %q", one.Name, want)
	}
	for _, f := range one.Faults {
		assert.True(t, strings.Contains(pdf, f.Words()), "%s: %q", one.Name, f.Title())
	}
}

// TestSheetsAreTheSameEachTime: equal input gives equal bytes.
func TestSheetsAreTheSameEachTime(t *testing.T) {
	r := graded(t, twelve(t), UsualMark)
	first, second := t.TempDir(), t.TempDir()
	require.NoError(t, Write(first, workshopInfo(), r))
	require.NoError(t, Write(second, workshopInfo(), graded(t, twelve(t), UsualMark)))
	files, err := filepath.Glob(filepath.Join(first, Folder, "*"))
	require.NoError(t, err)
	assert.Len(t, files, 3+2*6)
	for _, file := range files {
		a, err := os.ReadFile(file)
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(second, Folder, filepath.Base(file)))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(a, b), file)
	}
}

// TestStrangeNames: names of people and files may hold anything; none of it becomes part of a page or of a path.
func TestStrangeNames(t *testing.T) {
	w := newWorkshop(t)
	evil := "../x\"'><script>alert(1)</script>&amp;\n\x1b[2J\u202e\xff"
	w.add(evil, "2026-05-04", record.Conforms, good, gap, lost)
	w.crimps[1].Label.Crimp = evil
	w.crimps[2].Pictures[0].Failure = evil
	w.crimps[2].Label.Date = "<b>today</b>"
	dir, _ := sheets(t, w, UsualMark)
	for _, name := range []string{"index.html", "01.html"} {
		page := read(t, dir, name)
		assert.NotContains(t, page, "<script>")
		assert.NotContains(t, page, "<b>")
		assert.NotContains(t, page, "\x1b")
		assert.NotContains(t, page, "\u202e")
		assert.Contains(t, page, "&lt;script&gt;")
		assert.NotContains(t, page, "ZgotmplZ")
		assert.NotContains(t, page, "%!")
	}
	files, err := filepath.Glob(filepath.Join(dir, Folder, "*"))
	require.NoError(t, err)
	assert.Len(t, files, 5, "nothing was written elsewhere: %v", files)
	var back Report
	require.NoError(t, json.Unmarshal([]byte(read(t, dir, "grade.json")), &back))
}

// TestChart: a day a mark, the share and its interval at the height that the axis gives them.
func TestChart(t *testing.T) {
	days := []Day{{Date: "2026-04-27", Yield: yieldOf(Counts{NotConform: 4})}, {Date: "2026-05-04", Yield: yieldOf(Counts{Conforming: 4})}, {Date: "", Yield: yieldOf(Counts{Conforming: 1})}}
	svg := string(chart(days))
	assert.Equal(t, 2, strings.Count(svg, "<circle"), "a day that is unknown has no place")
	assert.Contains(t, svg, fmt.Sprintf(`cy="%g"`, chartBottom))
	assert.Contains(t, svg, fmt.Sprintf(`cy="%g"`, chartTop))
	assert.Contains(t, svg, ">0 of 4<")
	assert.Empty(t, chart(days[:1]))
	assert.Empty(t, chart(nil))
	many := []Day{}
	for i := range 40 {
		many = append(many, Day{Date: fmt.Sprintf("2026-%02d-%02d", 1+i/28, 1+i%28), Yield: yieldOf(Counts{Conforming: 3, NotProven: 1})})
	}
	assert.LessOrEqual(t, strings.Count(string(chart(many)), " of 4<"), 7, "labels do not run into each other")
}

// TestUnwritable: the error names the file and says what to do.
func TestUnwritable(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	err := Write(file, workshopInfo(), Report{})
	assert.ErrorContains(t, err, "cannot be written")
	assert.ErrorContains(t, err, "call again")
}
