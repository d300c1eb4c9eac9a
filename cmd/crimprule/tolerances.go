package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"crimprule/internal/elsewhere"
	"crimprule/internal/terminal"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

func newTolerancesCommand(stdout io.Writer) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "tolerances",
		Short: "Check a tolerances file, or print one to start from",
		Long: `A tolerances file says what a crimp or a stripped wire is judged by: the view that it is for, the wire
and the contact, the confidence that a decision needs, and the limits of each measurand, with a note
on where each limit comes from; also the limits of what other instruments measure. Write one for each view that you measure: seam, side, strip, section.`,
		Example: `  crimprule tolerances example > limits.yaml
  crimprule tolerances example --view strip > strip-limits.yaml
  crimprule tolerances check limits.yaml`,
	}
	onlyWithSubcommand(cmd)
	cmd.AddCommand(
		&cobra.Command{
			Use:   "check FILE",
			Short: "Say whether a tolerances file is right, and if not, where",
			Long: `Say whether a tolerances file is right. Whatever is wrong is told with its line and column, the line
itself and what to do about it.

Exit status:
  0  the file is right
  2  the file is wrong or cannot be read, or the call is wrong`,
			Example: `  crimprule tolerances check limits.yaml`,
			Args:    oneFile,
			RunE: func(_ *cobra.Command, args []string) error {
				return runTolerancesCheck(args[0], stdout)
			},
		},
		newExampleCommand(stdout))
	return cmd
}

func newExampleCommand(stdout io.Writer) *cobra.Command {
	view := string(record.Seam)
	cmd := &cobra.Command{
		Use:   "example",
		Short: "Print a commented tolerances file to start from",
		Long: `Print a commented tolerances file to start from. Its limits are examples, neither a standard's nor a
maker's: replace them by those of the contact maker's specification.

Exit status:
  0  printed
  2  the call is wrong`,
		Example: `  crimprule tolerances example > limits.yaml
  crimprule tolerances example --view strip > strip-limits.yaml
  crimprule tolerances example --view section > section-limits.yaml`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			text := tolerance.Example(record.View(view))
			if text == "" {
				return wrongCall{cmd.CommandPath(), fmt.Errorf("--view %q: there is an example for each of seam, side, strip and section", view)}
			}
			_, err := io.WriteString(stdout, text)
			return err
		},
	}
	cmd.Flags().StringVar(&view, "view", view, "what the limits are for: `VIEW` is seam, side or strip (photos) or\nsection (micrographs)")
	return cmd
}

func oneFile(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return wrongCall{cmd.CommandPath(), fmt.Errorf("%d files given: name one tolerances file", len(args))}
	}
	return nil
}

func runTolerancesCheck(path string, stdout io.Writer) error {
	file, err := tolerance.Load(path)
	if err != nil {
		return wrongCall{"crimprule tolerances", err}
	}
	text := fmt.Sprintf("%s is right: %q, decided at %.4g %%, %d limits\n%s", wording.Clean(path), file.Name, 100*file.Confidence, len(file.Limits),
		limitLines(file.View, file.Limits, record.Key.Unit))
	if len(file.Elsewhere) > 0 {
		text += fmt.Sprintf("\nand %d of what is measured elsewhere\n%s", len(file.Elsewhere), limitLines("", file.Elsewhere, elsewhere.Unit))
	}
	return terminal.New(stdout, io.Discard).Say(text)
}

// limitLines lists limits, one a line.
func limitLines(view record.View, limits []tolerance.Limit, unitOf func(record.Key) string) string {
	lines := make([]string, len(limits))
	for i, l := range limits {
		lines[i] = "  " + wording.Name(view, l.Key) + ": " + wording.Limits(l.Min, l.Max) + " " + wording.Unit(unitOf(l.Key))
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}
