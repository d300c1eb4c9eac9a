package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/history"
	"crimprule/internal/terminal"
)

// historyExportOptions is the command line of `history export`, as the user wrote it.
type historyExportOptions struct{ history, format string }

func (o *historyExportOptions) addFlags(f *pflag.FlagSet) {
	addHistoryFlag(f, &o.history)
	f.StringVar(&o.format, "format", "jsonl", "`FORMAT` is jsonl (all rows, one JSON object a line) or csv (a table of values for\nspreadsheets)")
	f.SortFlags = false
}

func newHistoryExportCommand(stdout, stderr io.Writer) *cobra.Command {
	var opts historyExportOptions
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Print the whole history, for other programs",
		Long: `Print the whole history to standard output.

jsonl: every row as a JSON object of its own; "kind" is scan, tolerances, measurement (with its record as
it was first written), verdict, picture (of a scan, with the ids of measurement and verdict),
elsewhere (with its verdict as history show gives it today) or withdrawal. What is drawn into pictures is left out.

csv: one line a value of each picture of each scan, and one a value measured elsewhere, with u, limits
and who, when and by what. Text that a spreadsheet would take for a formula begins with an apostrophe.
` + historyExitHelp,
		Example: `  crimprule history export > history.jsonl
  crimprule history export --history roof-history.db --format csv > roof.csv`,
		Args: noArguments,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runHistoryExport(cmd.Context(), opts, stdout, stderr)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

func runHistoryExport(ctx context.Context, opts historyExportOptions, stdout, stderr io.Writer) error {
	const command = "crimprule history export"
	if opts.format != "jsonl" && opts.format != "csv" {
		return wrongCall{command, fmt.Errorf("--format %q: say jsonl or csv", opts.format)}
	}
	return withHistory(ctx, command, opts.history, history.Options{ReadOnly: true}, func(h *history.History) error {
		out := bufio.NewWriterSize(stdout, 1<<16)
		var err error
		if opts.format == "csv" {
			err = exportCSV(ctx, h, terminal.New(out, stderr).HistoryTable())
		} else {
			lines := json.NewEncoder(out)
			lines.SetEscapeHTML(false)
			err = h.Dump(ctx, lines.Encode)
		}
		return errors.Join(err, out.Flush())
	})
}

func exportCSV(ctx context.Context, h *history.History, table *terminal.HistoryTable) error {
	if err := h.Pictures(ctx, table.Picture); err != nil {
		return err
	}
	err := h.Dump(ctx, func(row any) error {
		if e, ok := row.(history.DumpedElsewhere); ok {
			return table.Elsewhere(e)
		}
		return nil
	})
	return errors.Join(err, table.End())
}
