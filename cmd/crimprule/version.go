package main

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"runtime"

	"github.com/spf13/cobra"
	"gocv.io/x/gocv"
)

// version counts after https://semver.org; revision is set by the Makefile.
var (
	version  = "0.1.0"
	revision = "unknown"
)

// programName is program, version and revision in one: what evidence names, and what tells whether a picture was measured
// by the very same program. A build without a revision is told by its own bytes.
func programName() (string, error) {
	if revision != "unknown" {
		return fmt.Sprintf("crimprule %s (revision %s)", version, revision), nil
	}
	path, err := os.Executable()
	if err != nil {
		return "", err
	}
	file, err := os.Open(path) //nolint:gosec // this program itself
	if err != nil {
		return "", err
	}
	defer func() { _ = file.Close() }()
	hash := sha256.New()
	if _, err := io.Copy(hash, file); err != nil {
		return "", err
	}
	return fmt.Sprintf("crimprule %s (build %.12x)", version, hash.Sum(nil)), nil
}

type versionOptions struct{ json bool }

func newVersionCommand(stdout io.Writer) *cobra.Command {
	var opts versionOptions
	cmd := &cobra.Command{
		Use:   "version",
		Short: "Tell which version this is",
		Long: `Tell which version this is, and which OpenCV it runs with. Quote it with every question.

Exit status:
  0  told
  2  the call is wrong`,
		Example: `  crimprule version
  crimprule version --json`,
		Args: noArguments,
		RunE: func(*cobra.Command, []string) error { return runVersion(opts, stdout) },
	}
	cmd.Flags().BoolVar(&opts.json, "json", false, "print one JSON object")
	return cmd
}

func runVersion(opts versionOptions, stdout io.Writer) error {
	v := struct {
		Program  string `json:"program"`
		Version  string `json:"version"`
		Revision string `json:"revision"`
		Go       string `json:"go"`
		OpenCV   string `json:"opencv"`
	}{"crimprule", version, revision, runtime.Version(), gocv.OpenCVVersion()}
	if opts.json {
		return json.NewEncoder(stdout).Encode(v)
	}
	_, err := fmt.Fprintf(stdout, "crimprule %s (revision %s, %s, OpenCV %s)\n", v.Version, v.Revision, v.Go, v.OpenCV)
	return err
}
