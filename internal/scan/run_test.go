package scan

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
)

// noting keeps what a scan says of its pictures.
type noting struct {
	silent
	seen []site.Picture
}

func (n *noting) Picture(p site.Picture) error {
	n.seen = append(n.seen, p)
	return nil
}

// A picture over which worker processes die is tried twice and named, one over which they hang is named at once; the others
// are measured, and all come in the order of the input.
func TestAPictureThatWorkersDieOverTakesNoOtherAlong(t *testing.T) {
	dir := t.TempDir()
	photos := filepath.Join(dir, "photos")
	require.NoError(t, os.Mkdir(photos, 0o755))
	names := []string{"abort.jpg", "good-1.jpg", "good-2.jpg", "hang.jpg", "panic.jpg", "slow.jpg"}
	for _, name := range names {
		require.NoError(t, os.WriteFile(filepath.Join(photos, name), []byte(name), 0o644))
	}
	o := benchOptions(dir, 2)
	o.Timeout = 2 * time.Second
	var seen noting
	require.NoError(t, Run(t.Context(), o, &seen))
	require.Len(t, seen.seen, len(names))
	reasons := map[string]string{"abort.jpg": "2 times over this picture", "hang.jpg": "took longer than 2s", "panic.jpg": "panic: a fault"}
	for i, p := range seen.seen {
		assert.Equal(t, names[i], p.File)
		if reason, bad := reasons[p.File]; bad {
			assert.Nil(t, p.Record)
			assert.Contains(t, p.Failure, reason)
		} else {
			assert.Empty(t, p.Failure)
			assert.NotNil(t, p.Record)
		}
	}
}
