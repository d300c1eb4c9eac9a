package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

const exitHelp = `
Exit status:
  0  every picture has a record (also one that asks for a better picture) and, with
     --tolerances, every crimp conforms
  1  a picture could not be read, or an output could not be written; the other pictures
     were measured all the same (this outranks 3)
  2  the call or its tolerances file is wrong; nothing was measured
  3  with --tolerances: a crimp does not conform, is not proven or is not measured`

func newRootCommand(stdout, stderr io.Writer) *cobra.Command {
	root := &cobra.Command{
		Use:   "crimprule",
		Short: "Measure crimps in pictures and judge them by your own limits",
		Long: `crimprule measures crimped contacts in photographs and micrographs, and stripped wires before they are
crimped: gaps, strands, wings and seam, each value with its uncertainty. It judges them by the limits
in your tolerances file.

It looks at pictures. It does not qualify a crimp, a tool or a person: the contact maker's
specification does, and pull-out and resistance tests are not replaced by any picture.
Never photograph, open or pull a connector under load or voltage.`,
		Example: `  crimprule card --out card.pdf
  crimprule measure --scale chessboard=5mm photo.jpg
  crimprule tolerances example > limits.yaml
  crimprule measure --scale chessboard=5mm --tolerances limits.yaml --overlay drawn photos/*.jpg`,
		SilenceErrors:     true,
		SilenceUsage:      true,
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
	}
	root.SetOut(stdout)
	root.SetErr(stderr)
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error { return wrongCall{cmd.CommandPath(), flagError(err)} })
	onlyWithSubcommand(root)
	root.AddCommand(
		newMeasureCommand(stdout, stderr),
		newScanCommand(stdout, stderr),
		newGradeCommand(stdout, stderr),
		newDemoCommand(stdout, stderr),
		newHistoryCommand(stdout, stderr),
		newLotCommand(stdout),
		newEvidenceCommand(stdout, stderr),
		newCardCommand(stdout),
		newTolerancesCommand(stdout),
		newVersionCommand(stdout),
		newWorkerCommand(),
	)
	root.SetHelpCommand(newHelpCommand(root))
	return root
}

// onlyWithSubcommand makes calling cmd itself, or with an unknown command, a wrong call.
func onlyWithSubcommand(cmd *cobra.Command) {
	cmd.Args = cobra.ArbitraryArgs
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return wrongCall{cmd.CommandPath(), fmt.Errorf("no command given; there are: %s", subcommands(cmd))}
		}
		return wrongCall{cmd.CommandPath(), unknownCommand(cmd, args[0])}
	}
}

func unknownCommand(cmd *cobra.Command, name string) error {
	cmd.SuggestionsMinimumDistance = 2 // in letters changed, as cobra itself takes it for the root
	if near := cmd.SuggestionsFor(name); len(near) > 0 {
		return fmt.Errorf("unknown command %q; did you mean %q?", name, near[0])
	}
	return fmt.Errorf("unknown command %q; there are: %s", name, subcommands(cmd))
}

func subcommands(cmd *cobra.Command) string {
	var names []string
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	return strings.Join(names, ", ")
}

func newHelpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "Tell about a command",
		RunE: func(_ *cobra.Command, args []string) error {
			cmd, rest, err := root.Find(args)
			if err != nil || cmd == nil || len(rest) > 0 {
				return wrongCall{root.CommandPath(), unknownCommand(root, strings.Join(args, " "))}
			}
			cmd.InitDefaultHelpFlag()
			return cmd.Help()
		},
	}
}

// noArguments is for commands that take none.
func noArguments(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return wrongCall{cmd.CommandPath(), fmt.Errorf("%q is one word too many: this command takes no arguments", args[0])}
	}
	return nil
}
