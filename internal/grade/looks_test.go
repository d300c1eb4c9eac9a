package grade

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAMarkThatIsOverDoesNotLookReached: it was reached, and the last crimps failed.
func TestAMarkThatIsOverDoesNotLookReached(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", good, good, gap, strays)
	w.add("b", "2026-05-04", "", good, good, gap)
	w.add("c", "2026-05-04", "", good, good, doubtful)
	w.add("d", "2026-05-04", "", gap, good, good)
	dir, r := sheets(t, w, Mark{Row: 2})
	for i, want := range []badge{
		{"not_proven", "reached, but the last 2 do not conform"}, {"not_proven", "reached, but the last does not conform"},
		{"not_proven", "reached, but the row now stands at 0"}, {"conforms", "reached"},
	} {
		assert.Equal(t, want, standingBadge(r.Trainees[i], r.Mark), r.Trainees[i].Name)
		assert.Contains(t, text(read(t, dir, "index.html")), want.Words)
		assert.Contains(t, text(read(t, dir, sheetName(i, "html"))), want.Words)
	}
}

// TestDrawingsRestOnTheCause: of more failures than are shown, those stand in front that the named cause could explain.
func TestDrawingsRestOnTheCause(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", strays, gap, gap, gap, good)
	_, r := sheets(t, w, UsualMark)
	one := r.Trainees[0]
	worst, of := one.Worst()
	assert.Equal(t, 4, of)
	require.Len(t, worst, 3)
	require.True(t, one.rests([]string{"gap between insulation and sleeve (largest)"}))
	if !one.rests([]string{"number of stray strands"}) {
		for _, c := range worst {
			assert.NotContains(t, c.Faults, "number of stray strands")
		}
	}
	assert.False(t, Findings{}.rests([]string{"any"}), "without a cause nothing rests on it")
}

// TestPDFSaysWhatHelps: each cause has its exercise beside it, as on the page, and the drawings have their heading.
func TestPDFSaysWhatHelps(t *testing.T) {
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("no pdftotext is installed here")
	}
	w := newWorkshop(t)
	w.add("a", "2026-05-04", "", gap, strays, gap, strays)
	dir, r := sheets(t, w, UsualMark)
	out, err := exec.Command(program, "-layout", filepath.Join(dir, Folder, "01.pdf"), "-").Output()
	require.NoError(t, err)
	pdf := strings.Join(strings.Fields(string(out)), " ")
	assert.Contains(t, pdf, "likely cause what helps")
	for _, fault := range r.Trainees[0].Faults {
		for _, step := range fault.Causes {
			assert.Contains(t, pdf, step.Helps())
		}
	}
	assert.Contains(t, pdf, "To look at together: what does not conform (3 of 4 shown)")
	for _, page := range strings.Split(string(out), "\f") {
		lines := strings.Split(strings.TrimSpace(page), "\n")
		if len(lines) > 2 {
			assert.NotContains(t, lines[len(lines)-2], "To look at together", "a heading alone at the foot")
		}
	}
}
