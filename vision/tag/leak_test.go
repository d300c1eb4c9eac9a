//go:build matprofile

package tag

import (
	"bytes"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// TestMain runs the tests and then looks for Mats that none of them closed: go test -tags matprofile.
func TestMain(m *testing.M) {
	code := m.Run()
	if n := gocv.MatProfile.Count(); n != 0 && code == 0 {
		var where bytes.Buffer
		_ = gocv.MatProfile.WriteTo(&where, 1)
		_, _ = os.Stderr.WriteString("Mats were left open:\n" + where.String())
		code = 1
	}
	os.Exit(code)
}
