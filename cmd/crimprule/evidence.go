package main

import (
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"crimprule/internal/evidence"
	"crimprule/internal/terminal"
)

func newEvidenceCommand(stdout, stderr io.Writer) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "evidence",
		Short: "Check evidence that was handed over",
		Long: `The folder that a scan writes with --out is evidence that can be handed over: a page, a PDF, a table, the
records, the pictures, and a manifest with the SHA-256 of every file.`,
		Example: `  crimprule evidence verify canopy-evidence`,
	}
	onlyWithSubcommand(cmd)
	cmd.AddCommand(newVerifyCommand(stdout, stderr))
	return cmd
}

// verifyOptions is the command line of `evidence verify`, as the user wrote it.
type verifyOptions struct {
	sum  string
	json bool
}

func newVerifyCommand(stdout, stderr io.Writer) *cobra.Command {
	var opts verifyOptions
	cmd := &cobra.Command{
		Use:   "verify DIR",
		Short: "Say whether evidence is as it was written",
		Long: `Hold every file of an evidence folder against its manifest, and name each one that was changed, is
missing or was added. Links are refused, and so are names that lead out of the folder.

Whoever can change the evidence can write a new manifest too. The scan prints the manifest's own
SHA-256, and so does this command: note it where others cannot change it, and give it with --sum.

Exit status:
  0  the evidence is as it was written
  1  a file was changed, is missing, was added or is refused, or the manifest has another sum
  2  the call is wrong, or the folder cannot be checked`,
		Example: `  crimprule evidence verify canopy-evidence
  crimprule evidence verify canopy-evidence --sum 9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08
  crimprule evidence verify canopy-evidence --json`,
		Args: oneFolder,
		RunE: func(_ *cobra.Command, args []string) error { return runVerify(args[0], opts, stdout, stderr) },
	}
	cmd.Flags().StringVar(&opts.sum, "sum", "", "the SHA-256 that the manifest itself had, noted elsewhere, as `HEX`")
	cmd.Flags().BoolVar(&opts.json, "json", false, "print one JSON object, and nothing else")
	cmd.Flags().SortFlags = false
	return cmd
}

func oneFolder(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return wrongCall{cmd.CommandPath(), fmt.Errorf("%d folders given: name one folder of evidence", len(args))}
	}
	return nil
}

var sumInHex = regexp.MustCompile(`^[0-9a-f]{64}$`)

// verified is what --json prints.
type verified struct {
	Whole bool `json:"whole"`
	evidence.Report
	WrongSum string `json:"wrong_sum,omitempty"` // the sum that the manifest was to have and has not
}

// runVerify checks a folder. The error is a wrongCall, errChanged, or that of writing.
func runVerify(dir string, opts verifyOptions, stdout, stderr io.Writer) error {
	want := strings.ToLower(strings.TrimSpace(opts.sum))
	if want != "" && !sumInHex.MatchString(want) {
		return wrongCall{"crimprule evidence verify", fmt.Errorf("--sum %q is no SHA-256: give its 64 digits, 0 to 9 and a to f", opts.sum)}
	}
	report, err := evidence.Verify(dir)
	if err != nil {
		return wrongCall{"crimprule evidence verify", err}
	}
	v := verified{Report: report, Whole: report.Whole()}
	if want != "" && want != report.Manifest {
		v.WrongSum, v.Whole = want, false
	}
	if opts.json {
		err = json.NewEncoder(stdout).Encode(v)
	} else {
		err = terminal.New(stdout, stderr).Evidence(checked(dir, want != "", v))
	}
	if err == nil && !v.Whole {
		return errChanged
	}
	return err
}

// checked puts what was found into words for the terminal.
func checked(dir string, asked bool, v verified) terminal.CheckedEvidence {
	c := terminal.CheckedEvidence{Dir: dir, Files: v.Files, Manifest: v.Manifest, WrongSum: v.WrongSum, Whole: v.Whole, Asked: asked}
	for _, name := range v.Changed {
		c.Findings = append(c.Findings, terminal.Finding{What: "changed", Name: name})
	}
	for _, name := range v.Missing {
		c.Findings = append(c.Findings, terminal.Finding{What: "missing", Name: name})
	}
	for _, name := range v.Additional {
		c.Findings = append(c.Findings, terminal.Finding{What: "added", Name: name})
	}
	for _, p := range v.Refused {
		c.Findings = append(c.Findings, terminal.Finding{What: "refused", Name: p.Name, Why: p.Reason})
	}
	return c
}
