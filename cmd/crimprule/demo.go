package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/demo"
	"crimprule/internal/grade"
	"crimprule/internal/terminal"
	"crimprule/internal/wording"
)

func newDemoCommand(stdout, stderr io.Writer) *cobra.Command {
	small := false
	cmd := &cobra.Command{
		Use:   "demo DIR",
		Short: "Write an invented site with drawn photos, and scan it",
		Long: `Write an invented site into the new or empty folder DIR: photos of a ferry terminal's solar canopy and
of its apprentice workshop, all drawn, with manifests and tolerances files. Then scan the canopy, as an
inspector would, and grade the workshop, as a trainer would. DIR/README.txt says what is what. It takes
a minute or two on two cores and opens nothing by itself.

The same call always writes the same pictures.

Exit status:
  0  written, scanned and graded; the demo has bad crimps and a broken file on purpose
  1  something could not be written
  2  the call is wrong
  130  interrupted; delete the folder and call again`,
		Example: `  crimprule demo site
  crimprule demo --small site`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) != 1 {
				return wrongCall{cmd.CommandPath(), fmt.Errorf("%d folders given: name one new folder to write to", len(args))}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDemo(cmd.Context(), args[0], small, stdout, stderr)
		},
	}
	cmd.Flags().BoolVar(&small, "small", false, "write four small pictures only, in a few seconds")
	return cmd
}

// runDemo writes the demo, scans its canopy and grades its workshop. The error is a wrongCall where dir cannot be written
// to at all, the context's, or says what went wrong.
func runDemo(ctx context.Context, dir string, small bool, stdout, stderr io.Writer) error {
	term := terminal.New(stdout, stderr)
	if err := writeDemo(ctx, dir, small, term); err != nil {
		return err
	}
	canopy, workshop := filepath.Join(dir, demo.Canopy), filepath.Join(dir, demo.Workshop)
	err := term.Say("$ crimprule scan " + wording.Clean(canopy) + "\n")
	if err == nil {
		err = asPlanned(demoScan(ctx, canopy, stdout, stderr))
	}
	if err == nil {
		err = term.Say(fmt.Sprintf("\n$ crimprule grade --row %d %s\n", demoRow, wording.Clean(workshop)))
	}
	if err == nil {
		err = asPlanned(demoGrade(ctx, workshop, stdout, stderr))
	}
	if err != nil {
		return err
	}
	return term.Say(fmt.Sprintf(`
The demo lies in %[1]s. All of it is invented; README.txt there says what is what.
  canopy, workshop     the drawn photos, each folder with its manifest.csv
  tolerances           what the crimps are judged by
  canopy-evidence      for the inspector: open %[2]s
  workshop-evidence    for the trainer: open %[3]s
Next: crimprule history list --history %[4]s
      crimprule evidence verify %[5]s`, wording.Clean(dir), wording.Clean(filepath.Join(canopy+"-evidence", "index.html")),
		wording.Clean(filepath.Join(workshop+"-evidence", grade.Folder, "index.html")), wording.Clean(canopy+"-history.db"), wording.Clean(canopy+"-evidence")))
}

// writeDemo writes the site and tells of its progress.
func writeDemo(ctx context.Context, dir string, small bool, term *terminal.Terminal) error {
	var progress *terminal.Progress
	err := demo.Write(ctx, dir, demo.Options{Small: small, Progress: func(done, total int) {
		if progress == nil {
			progress = term.Drawing(total)
		}
		progress.Set(done)
	}})
	if progress != nil {
		progress.Hide()
	}
	var wrong demo.FolderError
	if errors.As(err, &wrong) {
		return wrongCall{"crimprule demo", err}
	}
	return err
}

// asPlanned takes what the demo has on purpose, bad crimps and a broken file, for no error.
func asPlanned(err error) error {
	if errors.Is(err, errUnreadable) || errors.Is(err, errNotConforming) {
		return nil
	}
	return err
}

// demoRow is the mark of the demo's trainees, who have made five crimps each.
const demoRow = 5

func demoScan(ctx context.Context, folder string, stdout, stderr io.Writer) error {
	var opts scanOptions
	opts.addFlags(pflag.NewFlagSet("", pflag.ContinueOnError)) // for the defaults
	return runScan(ctx, opts, []string{folder}, stdout, stderr)
}

func demoGrade(ctx context.Context, folder string, stdout, stderr io.Writer) error {
	var opts gradeOptions
	opts.addFlags(pflag.NewFlagSet("", pflag.ContinueOnError))
	opts.row = demoRow
	return runGrade(ctx, opts, []string{folder}, stdout, stderr)
}
