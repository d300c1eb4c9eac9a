package evidence

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// written writes the evidence of an invented site and gives its folder.
func written(t testing.TB, n int) (string, Summary) {
	dir := t.TempDir()
	v := newInvented(t, n)
	v.dir = dir
	s, err := Write(context.Background(), dir, v.info(), v)
	require.NoError(t, err)
	return dir, s
}

func TestWrite(t *testing.T) {
	dir, s := written(t, 120)
	assert.Equal(t, 120, s.Crimps)
	t.Log(s)
	r, err := Verify(dir)
	require.NoError(t, err)
	assert.True(t, r.Whole(), "%+v", r)
	if keep := os.Getenv("KEEP"); keep != "" {
		require.NoError(t, os.CopyFS(filepath.Join(keep), os.DirFS(dir)))
	}
}
