package terminal

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestEvidenceWithoutASumIsNotTheWholeTruth: a manifest that agrees proves little to one who did not keep its sum, and that
// is said, but not to one who gave it.
func TestEvidenceWithoutASumIsNotTheWholeTruth(t *testing.T) {
	printed := func(c CheckedEvidence) string {
		var out bytes.Buffer
		require.NoError(t, New(&out, io.Discard).Evidence(c))
		return strings.Join(strings.Fields(out.String()), " ")
	}
	const caution = "Whoever can change the evidence can write its manifest anew"
	text := printed(CheckedEvidence{Dir: "pack", Whole: true, Files: 3, Manifest: "ab"})
	assert.Contains(t, text, "pack is as it was written: 3 files")
	assert.Contains(t, text, caution)
	assert.Contains(t, text, "--sum")
	assert.NotContains(t, printed(CheckedEvidence{Dir: "pack", Whole: true, Asked: true}), caution)
	text = printed(CheckedEvidence{Dir: "pack", Findings: []Finding{{What: "added", Name: "notes/"}}})
	assert.NotContains(t, text, caution)
	assert.Contains(t, text, "added notes/")
	assert.Contains(t, text, "Do not rely on it")
}
