package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/accuracy"
)

// TestRunWritesTheTables measures two sections of the test data, given twice, and writes the document anew.
func TestRunWritesTheTables(t *testing.T) {
	all, err := accuracy.Load(rendered, "../../../../testdata/section")
	require.NoError(t, err)
	cases := all[:2]
	path := filepath.Join(t.TempDir(), "doc.md")
	require.NoError(t, os.WriteFile(path, []byte("x\n<!-- accuracy:begin -->\n<!-- accuracy:end -->\n"+
		"<!-- accuracy-sections:begin -->\nold\n<!-- accuracy-sections:end -->\ny\n"), 0o600))
	require.NoError(t, run(context.Background(), append(cases, cases...), 0, path, nil))
	text, err := os.ReadFile(path) //nolint:gosec // written above
	require.NoError(t, err)
	assert.Contains(t, string(text), "x\n<!-- accuracy:begin -->\n\n<!-- accuracy:end -->\n")
	assert.Contains(t, string(text), "**Section, rendered**: 2 to be measured")
	assert.Regexp(t, "`crimp_height` \\| 2 of 2 \\| [+-]0\\.\\d{4} \\| 0\\.\\d{4} \\| [01]\\.\\d\\d \\| 0\\.\\d{4} \\|", string(text))
	assert.NotContains(t, string(text), "old")

	assert.ErrorContains(t, run(context.Background(), nil, 0, path, []string{t.TempDir()}), "holds no truth files")
}

// TestRandomScenes: each kind that is drawn has a name that tells it, and a set.
func TestRandomScenes(t *testing.T) {
	sets := map[string]int{}
	require.NoError(t, randomScenes(0, func(set, _ string, s scene) error {
		assert.NotNil(t, s)
		sets[set]++
		return nil
	}))
	assert.Equal(t, map[string]int{drawnBy: 2, varied: 3}, sets)
	assert.ErrorContains(t, randomScenes(0, func(string, string, scene) error { return errors.New("no space left") }), "no space left")
}
