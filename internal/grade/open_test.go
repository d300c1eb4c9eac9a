package grade

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/advice"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/verdict"
	"crimprule/vision/record"
)

// change makes something else of the n-th crimp, and settles it anew.
func (w *workshop) change(n int, with func(*site.Crimp)) {
	with(&w.crimps[n])
	w.crimps[n].Settle(true)
}

// TestCopiesReachNoMark: one photo under five names is no row of five. Its crimps are open, say why, and praise nobody.
func TestCopiesReachNoMark(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", times(5, good)...)
	mark := Mark{Row: 5}
	assert.Equal(t, Reached, graded(t, w, mark).Trainees[0].Row.Standing)
	for i := range 5 {
		w.change(i, func(c *site.Crimp) {
			c.Doubt(`the same picture ("<5>.jpg") stands for 5 crimps: a copy proves one crimp only`)
		})
	}
	dir, r := sheets(t, w, mark)
	one := r.Trainees[0]
	assert.Equal(t, Row{0, 0, 5, Open}, one.Row)
	assert.Equal(t, 5, one.Open())
	assert.Equal(t, "none proven, 5 open", one.Yield.Text())
	assert.Equal(t, "69.9 (69.9 to 69.9)", one.Score.Text(), "they were measured and judged")
	assert.Equal(t, one.Days[0].Score, one.Score.Mean, "the day counts the same crimps")
	assert.Empty(t, one.Well)
	assert.Empty(t, one.Unshown)
	assert.Nil(t, one.Practise)
	for _, name := range []string{"index.html", "01.html"} {
		assert.Contains(t, text(read(t, dir, name)), `a / 05 : the same picture ("<5>.jpg") stands for 5 crimps`, name)
	}
	assert.Contains(t, one.Crimps[4].Why, "in doubt: the same picture")

	bad := newWorkshop(t)
	bad.add("a", "", "", gap)
	bad.change(0, func(c *site.Crimp) { c.Doubt("the tag names another crimp") })
	one = graded(t, bad, mark).Trainees[0]
	assert.Equal(t, 1, one.NotConform, "what is bad stays bad")
	assert.Equal(t, "gap between insulation and sleeve (largest); in doubt: the tag names another crimp", one.Crimps[0].Why)
}

const stripLimits = `view: strip
limits:
  strip_length: {min: 7.5 mm, max: 8.5 mm}
  cut_strands: {max: 0}
`

// wire adds a stripped wire of a trainee; cut strands can never be proven (limits of u: see the verdict's tests).
func (w *workshop) wire(t *testing.T, trainee, limits string, length float64, cut float64) {
	file, err := tolerance.Parse("strip.yaml", []byte(limits))
	require.NoError(t, err)
	rec := record.New(record.Strip)
	rec.Set(record.StripLength, length, 0.17)
	rec.Set(record.CutStrands, cut, 5)
	rec.Set(record.Splay, 1.1, 0.1)
	rec.Set(record.InsulationCutAngle, 3, 1.8)
	v := verdict.Judge(rec, file)
	rec.Verdict = &v
	n := len(w.crimps) + 1
	label := site.Label{Trainee: trainee, Crimp: fmt.Sprintf("wire %d", n)}
	c := site.Crimp{Number: n, Label: label, Pictures: []site.Picture{{Position: n - 1, File: fmt.Sprintf("bench/wire-%d.jpg", n), Label: label, Record: &rec, Asked: record.Auto}}}
	c.Settle(true)
	w.crimps = append(w.crimps, c)
}

// TestStrippedWiresAreNoCrimps: they count in no number, yield, score, row or mark, and have a table of their own.
func TestStrippedWiresAreNoCrimps(t *testing.T) {
	const proven = "view: strip\nlimits: {strip_length: {min: 7.5 mm, max: 8.5 mm}}\n"
	w := newWorkshop(t)
	w.add("a", "", "", good, good)
	for _, length := range []float64{8, 8.1, 9.4, 7.9} {
		w.wire(t, "a", proven, length, 0)
	}
	w.add("a", "", "", good)
	dir, r := sheets(t, w, Mark{Row: 3})
	one := r.Trainees[0]
	assert.Len(t, one.Crimps, 3)
	assert.Equal(t, Row{3, 3, 3, Reached}, one.Row)
	assert.Equal(t, Counts{Conforming: 3}, one.Counts)
	assert.Equal(t, 3, one.Score.Of)
	assert.Empty(t, one.Faults)
	assert.Nil(t, one.Practise)
	assert.Equal(t, "stripped wires: 3 of 4 conform", one.Wires.Text())
	require.Len(t, one.Wires.Faults, 1)
	assert.Equal(t, "Fails in 1 of the 4 wires in which it was judged.", one.Wires.Faults[0].Words())
	assert.Equal(t, "the length stop of the stripping tool is set wrong, or 3 others that explain as much (each could explain the one wire that does not conform)", one.Wires.Cause.Words())
	assert.Equal(t, "stripping", one.Wires.Practise.Name)
	assert.Equal(t, "stripping", one.ToPractise())
	page := text(read(t, dir, "01.html"))
	for _, want := range []string{"stripped wires: 3 of 4 conform", "Fails in 1 of the 4 wires", "a / wire 5"} {
		assert.Contains(t, page, want)
	}
	assert.Contains(t, text(read(t, dir, "index.html")), "3 of 4 conform")

	only := newWorkshop(t)
	only.wire(t, "b", proven, 8, 0)
	one = graded(t, only, Mark{Row: 3}).Trainees[0]
	assert.Empty(t, one.Crimps)
	assert.Contains(t, one.Words(Mark{Row: 3}), "these pictures show no crimp")
	refused := record.New(record.Auto)
	refused.Refuse("the picture is blurred")
	lost := site.Crimp{Pictures: []site.Picture{{Asked: record.Strip, Record: &refused}}}
	assert.True(t, stripped(lost), "it was to show a wire")
	lost.Pictures[0].Asked = record.Auto
	assert.False(t, stripped(lost), "nobody knows what it was to show")
}

// TestWhatCannotBeProvenIsNoFault: no picture proves that no strand is cut, which says nothing against the work. With the
// limits of the example a good wire conforms.
func TestWhatCannotBeProvenIsNoFault(t *testing.T) {
	w := newWorkshop(t)
	w.wire(t, "a", stripLimits, 8, 0)
	w.wire(t, "a", stripLimits, 8.1, 1)
	w.wire(t, "b", tolerance.Example(record.Strip), 8, 0)
	r := graded(t, w, UsualMark)
	a := r.Trainees[0].Wires
	assert.Equal(t, "stripped wires: none proven, 2 open", a.Text())
	assert.Empty(t, a.Faults)
	assert.Nil(t, a.Cause)
	assert.Nil(t, a.Practise, "no photo would prove it either")
	require.Len(t, a.Unshown, 1)
	assert.True(t, a.Unshown[0].Never)
	assert.Contains(t, a.Unshown[0].Words(), "Not proven in all 2 wires in which it was judged: its uncertainty is too large for this limit")
	assert.Contains(t, a.Unshown[0].Shows, "loupe")
	assert.Equal(t, "stripped length", a.Well[0].Name)
	assert.Equal(t, "stripped wires: 1 of 1 conform", r.Trainees[1].Wires.Text())
}

// TestOpenIsNoFault: what is not proven or not measured has no cause and no exercise at the bench, and a yield of nothing
// proven is no 0 %.
func TestOpenIsNoFault(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", doubtful, doubtful, doubtful)
	w.add("a", "2026-05-05", "", doubtful)
	dir, r := sheets(t, w, UsualMark)
	one := r.Trainees[0]
	assert.Empty(t, one.Faults)
	assert.Nil(t, one.Cause)
	require.NotNil(t, one.Practise)
	assert.Equal(t, advice.Photographing(), one.Practise.Exercise)
	assert.Equal(t, "none proven, 4 open", one.Yield.Text())
	assert.Empty(t, one.ProgressWords())
	for _, name := range []string{"index.html", "01.html"} {
		page := text(read(t, dir, name))
		assert.Contains(t, page, "none proven, 4 open", name)
		assert.NotContains(t, page, " 0 %", name)
		assert.NotContains(t, page, "one wing took more room", name)
	}
	assert.Contains(t, text(read(t, dir, "01.html")), "symmetry of left and right Not proven in all 4 crimps in which it was judged. to show it a closer")
}

// TestDenominators: a feature that has a value in two of four crimps fails in one of two.
func TestDenominators(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, strays, good, good)
	for i := 2; i < 4; i++ {
		w.change(i, func(c *site.Crimp) {
			rec := c.Pictures[0].Record
			delete(rec.Measured, record.StrayCount)
			rec.Miss(record.StrayCount, "the sleeve's end lies in the shade")
			v := verdict.Judge(*rec, w.limits)
			rec.Verdict = &v
		})
	}
	one := graded(t, w, UsualMark).Trainees[0]
	assert.Equal(t, "Fails in 1 of the 2 crimps in which it was judged.", one.Faults[0].Words())
	assert.Equal(t, "Not measured in 2 crimps: the sleeve's end lies in the shade.", one.Unshown[0].Words())
	assert.Contains(t, one.Well[0].Words(), "conforms in all 4 crimps in which it was judged")
}

// TestEveryOpenCrimpSaysWhy: whatever keeps a crimp from conforming, the sheet names it.
func TestEveryOpenCrimpSaysWhy(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, gap, doubtful, blurred, lost, unlimited, blurred)
	w.change(6, func(c *site.Crimp) { // a refused picture, and one of a view without limits
		side := record.New(record.Side)
		side.Set(record.Bend, 1, 0.3)
		c.Pictures = append(c.Pictures, site.Picture{File: "side.jpg", Record: &side})
	})
	for _, c := range graded(t, w, UsualMark).Trainees[0].Crimps {
		assert.Equal(t, c.Result == yes, c.Why == "", "%d %s: %q", c.Number, c.Result, c.Why)
		l := linesOf([]Crimp{c})[0]
		assert.NotContains(t, []string{"", "-"}, l.What)
	}
	last := graded(t, w, UsualMark).Trainees[0].Crimps[6]
	assert.Equal(t, record.NotMeasured, last.Result)
	assert.Equal(t, "hold the camera still: the picture is blurred", last.Why)
}

// TestOwnJudgementThatContradictsItself is left out of the agreement, and said.
func TestOwnJudgementThatContradictsItself(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", yes, good, gap)
	w.change(0, func(c *site.Crimp) {
		second := c.Pictures[0]
		second.Label.Own = no
		c.Pictures = append(c.Pictures, second)
	})
	a := graded(t, w, UsualMark).Trainees[0].Agreement
	assert.Equal(t, []int{1, 0, 1, 1}, []int{a.Contradicting, a.BothGood, a.TooKind, a.Both()})
	assert.Contains(t, a.Words(), "1 crimp is left out: it is called both good and bad (a / 01): put the manifest right.")
}

// TestNoScaleIsNoExercise: who forgot to declare a scale has not photographed badly.
func TestNoScaleIsNoExercise(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good, blurred, blurred)
	reason := record.NoScaleDeclared + ": say --scale chessboard=5mm"
	for i := 1; i < 3; i++ {
		w.change(i, func(c *site.Crimp) { c.Pictures[0].Record.Retake = []string{reason} })
	}
	one := graded(t, w, UsualMark).Trainees[0]
	assert.Nil(t, one.Practise)
	require.Len(t, one.Photos, 1)
	assert.Equal(t, "bench/02.jpg, bench/03.jpg: no scale was declared: say --scale chessboard=5mm", one.Photos[0].Words())
}

// TestDrawings: the sheet shows what failed, the worst first, three at most; in the PDF they are pictures.
func TestDrawings(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", strays, gap, good, strays, gap)
	dir, r := sheets(t, w, UsualMark)
	worst, of := r.Trainees[0].Worst()
	require.Len(t, worst, 3)
	assert.Equal(t, 4, of)
	assert.Contains(t, read(t, dir, "01.html"), "To look at together: what does not conform (3 of 4 shown)")
	for i, c := range worst {
		assert.Equal(t, no, c.Result)
		assert.LessOrEqual(t, worst[0].Score, worst[i].Score)
		assert.Contains(t, read(t, dir, "01.html"), `<a href="../`+c.Drawing+`"><img src="../`+c.Drawing+`"`)
	}
	pdf, err := os.ReadFile(filepath.Join(dir, Folder, "01.pdf"))
	require.NoError(t, err)
	assert.Equal(t, 3, bytes.Count(pdf, []byte("/DCTDecode")))
	assert.Less(t, len(pdf), 500_000)

	require.NoError(t, os.RemoveAll(filepath.Join(dir, "overlays")))
	require.NoError(t, Write(dir, workshopInfo(), r), "a drawing that is gone leaves a sheet without it")
}

// TestTheLikeliestOfEqualCauses: where several causes could explain as many crimps, the one that usually stands first under
// its faults counts, whichever of them comes first in the tolerances file.
func TestTheLikeliestOfEqualCauses(t *testing.T) {
	var tally tally
	tally.take([][]string{{"tool", "wire too thick"}, {"damage", "turned", "worn die"}})
	tally.take([][]string{{"turned", "worn die"}})
	tally.take([][]string{{"strands", "cut", "wire too thick"}})
	s := features{causes: tally}
	assert.Equal(t, Cause{Text: "turned", Crimps: 2, Of: 3, Others: []string{"wire too thick", "worn die"}, noun: crimps}, *s.cause(crimps, false))
}

// TestTheTrainersChoiceIsNoExercise.
func TestTheTrainersChoiceIsNoExercise(t *testing.T) {
	p := pile{}
	p.features.causes.take([][]string{{"the wire is too thick for this contact"}})
	f := p.findings(crimps, false)
	assert.Equal(t, "check wire, contact and tool with the trainer", f.Practise.Name)
	assert.Equal(t, "first", f.Practise.Label())
	assert.Equal(t, "the named cause is no matter of practice", f.Practise.Why)
}
