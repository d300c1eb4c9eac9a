package evidence

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whoever hands the evidence over can be asked for the files that it does not show.
func TestFilesThatWereLeftAloneAreNamed(t *testing.T) {
	info := Info{Title: "t", Notes: []string{`"manifest (1).csv" looks like a manifest but was not read`}}
	for i := range mostLeftAlone + 2 {
		info.LeftAlone = append(info.LeftAlone, fmt.Sprintf("<file> %02d.dat", i))
	}
	dir := t.TempDir()
	_, err := Write(context.Background(), dir, info, some{})
	require.NoError(t, err)
	page, err := os.ReadFile(filepath.Join(dir, "index.html"))
	require.NoError(t, err)
	for _, text := range []string{"&lt;file&gt; 00.dat", "&lt;file&gt; 47.dat", "and 2 more", "&#34;manifest (1).csv&#34; looks like a manifest"} {
		assert.Contains(t, string(page), text)
	}
	assert.NotContains(t, string(page), "48.dat")
	pdf := pdfWords(t, dir)
	for _, text := range []string{"<file> 00.dat; <file> 01.dat", "and 2 more", `"manifest (1).csv" looks like a manifest`} {
		assert.Contains(t, pdf, text)
	}
}
