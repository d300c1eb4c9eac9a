package card

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden file anew")

const someTag = "canopy-north string-03 crimp-01"

func laidOut(t *testing.T, size, tag string) Page {
	t.Helper()
	p, err := New(Options{Size: size, Ground: Grey, Tag: tag})
	require.NoError(t, err)
	return p
}

func pdf(t *testing.T, pages ...Page) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WritePDF(&b, pages))
	return b.Bytes()
}

// printed is a PDF's page as a reader of our own sees it: its size and its filled rectangles, in points.
type printed struct {
	w, h  float64
	rects [][5]float64 // x, y from below, w, h, grey
}

// readPDF reads what WritePDF may write, by the file's own cross-reference table: ISO 32000-1, 7.5 (structure), 8.5.2.1
// (re), 8.6.8 (g).
func readPDF(t *testing.T, data []byte) []printed {
	t.Helper()
	start := regexp.MustCompile(`startxref\n(\d+)\n%%EOF\n$`).FindSubmatch(data)
	require.NotNil(t, start)
	table := strings.Split(string(data[atoi(t, string(start[1])):]), "\n")
	require.Equal(t, "xref", table[0])
	count := atoi(t, strings.Fields(table[1])[1])
	object := func(n int) string {
		line := table[2+n]
		require.Len(t, line, 19, "an entry has 20 bytes with its end (7.5.4)")
		text := string(data[atoi(t, line[:10]):])
		require.True(t, strings.HasPrefix(text, fmt.Sprintf("%d 0 obj\n", n)), "object %d", n)
		return text[:strings.Index(text, "endobj")]
	}
	var pages []printed
	for n := 1; n < count; n++ {
		text := object(n)
		if !strings.Contains(text, "/Type /Page ") {
			continue
		}
		box := regexp.MustCompile(`/MediaBox \[0 0 (\S+) (\S+)\]`).FindStringSubmatch(text)
		content := object(atoi(t, regexp.MustCompile(`/Contents (\d+) 0 R`).FindStringSubmatch(text)[1]))
		stream := content[strings.Index(content, "stream\n")+7 : strings.LastIndex(content, "\nendstream")]
		require.Equal(t, len(stream), atoi(t, regexp.MustCompile(`/Length (\d+)`).FindStringSubmatch(content)[1]))
		pages = append(pages, printed{atof(t, box[1]), atof(t, box[2]), rectangles(t, stream)})
	}
	return pages
}

func rectangles(t *testing.T, stream string) (rects [][5]float64) {
	t.Helper()
	grey := math.NaN()
	for _, line := range strings.Split(strings.TrimSpace(stream), "\n") {
		f := strings.Fields(line)
		switch {
		case strings.HasSuffix(line, " re f"):
			require.Len(t, f, 6)
			rects = append(rects, [5]float64{atof(t, f[0]), atof(t, f[1]), atof(t, f[2]), atof(t, f[3]), grey})
		case strings.HasSuffix(line, " g"):
			grey = atof(t, f[0])
		default:
			require.Regexp(t, `^BT /F[12] \S+ Tf \S+ \S+ Td \(.*\) Tj ET$`, line, "nothing scales what is painted")
		}
	}
	return rects
}

func atoi(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

func atof(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// A point is 1/72 inch and an inch 25.4 mm; the sizes are those of ISO 216. A micrometre is a hundredth of what a caliper
// shows.
func TestThePrintHasTheLengthsThatItStates(t *testing.T) {
	const mm, micron = 72 / 25.4, 0.001 * 72 / 25.4
	for size, want := range map[string]struct{ w, h, rule, cols, rows float64 }{
		"A6": {148, 105, 80, 8, 10}, "A5": {210, 148, 120, 12, 16},
	} {
		pages := readPDF(t, pdf(t, laidOut(t, size, someTag)))
		require.Len(t, pages, 1)
		p := pages[0]
		assert.InDelta(t, want.w*mm, p.w, micron)
		assert.InDelta(t, want.h*mm, p.h, micron)
		squares, across, along := 0.0, 0, 0
		low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		for _, r := range p.rects {
			near := func(v, mmWant float64) bool { return math.Abs(v-mmWant*mm) < micron }
			switch {
			case near(r[2], 5) && near(r[3], 5) && r[4] == 0:
				squares++
				low = [2]float64{min(low[0], r[0]), min(low[1], r[1])}
				high = [2]float64{max(high[0], r[0]+r[2]), max(high[1], r[1]+r[3])}
			case near(r[2], want.rule):
				across++
			case near(r[3], want.rule):
				along++
			}
			assert.True(t, r[0] > -micron && r[1] > -micron && r[0]+r[2] < p.w+micron && r[1]+r[3] < p.h+micron, "%v lies on the page", r)
		}
		assert.Equal(t, want.cols*want.rows/2, squares, "black squares")
		assert.InDelta(t, want.cols*5*mm, high[0]-low[0], micron)
		assert.InDelta(t, want.rows*5*mm, high[1]-low[1], micron)
		assert.Equal(t, [2]int{1, 1}, [2]int{across, along}, "ruled lines")
	}
}

// The rule's end marks are inside its length: a caliper reads over them.
func TestEndMarksEndWhereTheRuleEnds(t *testing.T) {
	p := laidOut(t, "A6", "")
	for _, r := range p.Rects {
		if math.Abs(r.W-p.RuleMM) < 1e-9 {
			marks := 0
			for _, m := range p.Rects {
				if m.H == 3 && (math.Abs(m.X-r.X) < 1e-9 || math.Abs(m.X+m.W-r.X-r.W) < 1e-9) {
					marks++
				}
			}
			assert.Equal(t, 2, marks)
			return
		}
	}
	t.Fatal("no rule")
}

// Round the board, the code and the part nothing is printed: a square's width round the board, four modules round a code
// (ISO/IEC 18004, 5.3.8 of the 2015 edition, from memory), and on the window nothing at all.
func TestQuietPlacesAreQuiet(t *testing.T) {
	for _, size := range []string{"A6", "A5"} {
		for tag, ground := range map[string]Ground{"7": Grey, someTag: White, strings.Repeat("x", MaxTag): White} {
			p, err := New(Options{Size: size, Ground: ground, Tag: tag})
			require.NoError(t, err)
			b := Rect{p.Board.X, p.Board.Y, float64(p.Board.Cols) * SquareMM, float64(p.Board.Rows) * SquareMM, 0}
			module := p.Tag.W
			for _, r := range p.Rects {
				if inside(r, p.Tag) {
					module = min(module, r.H)
				}
			}
			assert.GreaterOrEqual(t, module, 0.6, "a module's width for the longest tag")
			for _, r := range p.Rects {
				if !inside(r, b) {
					assert.False(t, meet(r, grown(b, SquareMM)), "%s: %v meets the board's rim", size, r)
				}
				if !inside(r, p.Tag) {
					assert.False(t, meet(r, grown(p.Tag, 4*module)), "%s: %v meets the code's quiet zone", size, r)
				}
				assert.False(t, r != p.Window && meet(r, grown(p.Window, -0.3)), "%s: %v lies in the window", size, r)
			}
			for _, text := range p.Texts {
				box := textBox(text)
				assert.False(t, meet(box, grown(b, 4)), "%s: %q meets the board's rim", size, text.Line)
				assert.False(t, meet(box, grown(p.Tag, 4*module-1e-9)), "%s: %q meets the code's quiet zone", size, text.Line)
				assert.False(t, meet(box, p.Window), "%s: %q lies in the window", size, text.Line)
				for _, r := range p.Rects {
					assert.False(t, r.W < p.W && r.H < p.H && meet(box, r), "%s: %q lies over %v", size, text.Line, r)
				}
				assert.True(t, inside(box, Rect{5, 5, p.W - 10, p.H - 10, 0}), "%s: %q is on the part that printers reach", size, text.Line)
			}
		}
	}
}

// textBox is more than a text takes: no letter of Helvetica rises above 0.73 of its size or sinks below 0.21 (its AFM file,
// from memory), and lines of words are narrower than 0.56 of it a letter, capitals than 0.72.
func textBox(t Text) Rect {
	width := 0.0
	for _, r := range t.Line {
		switch {
		case r >= 'A' && r <= 'Z':
			width += 0.72
		case strings.ContainsRune(" .,:;'il()/-", r):
			width += 0.34
		default:
			width += 0.56
		}
	}
	return Rect{t.X, t.Y - 0.73*t.Size, width * t.Size, 0.94 * t.Size, 0}
}

func grown(r Rect, by float64) Rect {
	return Rect{r.X - by, r.Y - by, r.W + 2*by, r.H + 2*by, 0}
}

func meet(a, b Rect) bool {
	const touch = 1e-6
	return a.X+touch < b.X+b.W && b.X+touch < a.X+a.W && a.Y+touch < b.Y+b.H && b.Y+touch < a.Y+a.H
}

func inside(a, b Rect) bool {
	const touch = 1e-6
	return a.X > b.X-touch && a.Y > b.Y-touch && a.X+a.W < b.X+b.W+touch && a.Y+a.H < b.Y+b.H+touch
}

// The part lies in the middle of the card, so that it lies in the middle of a picture of the card.
func TestTheSleeveLiesInTheMiddle(t *testing.T) {
	for _, size := range []string{"A6", "A5"} {
		p := laidOut(t, size, "")
		assert.InDelta(t, p.W/2, p.Window.X+p.Window.W/2, 1e-9)
		assert.InDelta(t, p.H/2, p.Window.Y+p.Window.H/2, 1e-9)
	}
}

// The bytes hang on nothing but the options. A reader of another make agrees on the page where one is installed.
func TestGolden(t *testing.T) {
	golden := filepath.Join("testdata", "card-a6.pdf")
	got := pdf(t, laidOut(t, "A6", someTag))
	if *update {
		require.NoError(t, os.WriteFile(golden, got, 0o644))
	}
	want, err := os.ReadFile(golden)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(want, got), "%s differs: look at the difference, then call go test -update", golden)
	assert.NotContains(t, string(got), "Date (D:")
	assert.Contains(t, string(got), "/PrintScaling /None")

	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm is not installed (package poppler-utils)")
	}
	// 254 dpi are 10 px/mm.
	out, err := exec.Command(tool, "-r", "254", "-gray", golden).Output()
	require.NoError(t, err)
	var w, h, most int
	_, err = fmt.Sscanf(string(out[:20]), "P5\n%d %d\n%d\n", &w, &h, &most)
	require.NoError(t, err)
	assert.InDelta(t, 1480.5, w, 0.6, "rounded up or down")
	assert.InDelta(t, 1050.5, h, 0.6, "rounded up or down")
	pix := out[len(out)-w*h:]
	p := laidOut(t, "A6", someTag)
	for j := range p.Board.Rows {
		for i := range p.Board.Cols {
			x, y := int(10*(p.Board.X+(float64(i)+0.5)*SquareMM)), int(10*(p.Board.Y+(float64(j)+0.5)*SquareMM))
			black := (i+j)%2 == 0
			assert.Equal(t, black, pix[y*w+x] < 20, "square %d, %d", i, j)
			assert.Equal(t, !black, pix[y*w+x] > 235, "square %d, %d", i, j)
		}
	}
}

func TestTagsThatCannotBe(t *testing.T) {
	for tag, want := range map[string]string{
		"\t": "empty", "x ": "begins or ends", "a\nb": "U+000A", "a\x1b[31m": "U+001B", "a\u202eb": "U+202E",
		"a\xffb": "U+FFFD", strings.Repeat("ü", 32): "64 bytes",
	} {
		_, err := New(Options{Size: "A6", Ground: Grey, Tag: tag})
		if assert.Error(t, err, "%q", tag) {
			assert.Contains(t, err.Error(), want)
			assert.NotContains(t, err.Error(), "\x1b")
		}
	}
}

// Whatever the tag says, the PDF stays one: brackets and backslashes do not end a string early.
func TestAnyTagLeavesAWholePDF(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		tag := rapid.StringMatching(`[!-~äßлー]{1,20}`).Draw(rt, "tag")
		p, err := New(Options{Size: "A5", Ground: White, Tag: tag})
		require.NoError(t, err)
		pages := readPDF(t, pdf(t, p, p))
		require.Len(t, pages, 2)
		require.Equal(t, len(p.Rects), len(pages[1].rects))
	})
}
