package main

import (
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the demo's README.txt tells people to call can be called.
func TestTheDemosReadmeNamesCommandsThatExist(t *testing.T) {
	text, err := os.ReadFile("../../internal/demo/README.txt")
	require.NoError(t, err)
	calls := 0
	for _, line := range strings.Split(strings.ReplaceAll(string(text), "\\\n", " "), "\n") {
		call, is := strings.CutPrefix(line, "  crimprule ")
		if !is {
			continue
		}
		calls++
		root := newRootCommand(io.Discard, io.Discard)
		cmd, args, err := root.Find(strings.Fields(call))
		require.NoError(t, err, call)
		assert.NotEqual(t, root, cmd, call)
		assert.False(t, cmd.HasSubCommands(), call)
		assert.NoError(t, cmd.ParseFlags(args), call)
	}
	assert.Greater(t, calls, 7)
}
