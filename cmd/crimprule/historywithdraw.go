package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"crimprule/internal/history"
	"crimprule/internal/site"
	"crimprule/internal/terminal"
)

// historyWithdrawOptions is the command line of `history withdraw`, as the user wrote it.
type historyWithdrawOptions struct {
	crimpName
	history, who, note string
}

func (o *historyWithdrawOptions) addFlags(f *pflag.FlagSet) {
	addHistoryFlag(f, &o.history)
	f.StringVar(&o.who, "who", "", "`WHO` withdraws it")
	f.StringVar(&o.note, "note", "", "`WHY` it does not count, such as \"typing error, it was 320 N\"")
	o.crimpName.addFlags(f, "the `CRIMP` that it belongs to, to be sure: a number of another crimp is then refused")
	f.SortFlags = false
}

func newHistoryWithdrawCommand(stdout io.Writer) *cobra.Command {
	var opts historyWithdrawOptions
	cmd := &cobra.Command{
		Use:   "withdraw NUMBER",
		Short: "Say that a value measured elsewhere does not count",
		Long: `Say that a value that was added by crimprule history add does not count: it was entered wrongly, or it was
measured of a contact that was cut off since. NUMBER is the value's, as history show and history add
print it. The value stays and is still shown, with who withdrew it, when and why; it is no longer
judged. Nothing is deleted, and a withdrawal is final: a value that was right after all is added again.
` + historyExitHelp,
		Example: `  crimprule history withdraw 7 --who "crew A" --note "typing error, it was 320 N"
  crimprule history withdraw 7 --crimp "S07 / 04" --who trainer --note "of the contact before this one"`,
		Args: func(cmd *cobra.Command, args []string) error {
			switch {
			case len(args) == 0:
				return wrongCall{cmd.CommandPath(), errors.New("no number given: say which value, as history show prints it")}
			case len(args) > 1:
				return wrongCall{cmd.CommandPath(), fmt.Errorf("%q is one word too many: withdraw one value at a time, each with its reason", args[1])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return runHistoryWithdraw(cmd.Context(), opts, args[0], stdout)
		},
	}
	opts.addFlags(cmd.Flags())
	return cmd
}

func runHistoryWithdraw(ctx context.Context, opts historyWithdrawOptions, number string, stdout io.Writer) error {
	const command = "crimprule history withdraw"
	id, err := strconv.ParseInt(number, 10, 64)
	switch {
	case err != nil:
		err = fmt.Errorf("%q is no number: give the number of the value, as history show prints it", number)
	case strings.TrimSpace(opts.who) == "":
		err = errors.New("it is not said who withdraws the value: add --who, as --who \"crew A\"")
	case strings.TrimSpace(opts.note) == "":
		err = errors.New("it is not said why the value does not count: add --note, as --note \"typing error, it was 320 N\"")
	}
	if err != nil {
		return wrongCall{command, err}
	}
	return withHistory(ctx, command, opts.history, history.Options{Existing: true}, func(h *history.History) error {
		value, err := opts.value(ctx, h, id)
		if err != nil {
			return wrongName(command, err)
		}
		if err := h.Withdraw(ctx, id, opts.who, opts.note); err != nil && !errors.Is(err, history.ErrWithdrawn) {
			return err
		} else if err != nil {
			return wrongCall{command, fmt.Errorf("value %d of %q was withdrawn just now by somebody else: see crimprule history show", id, value.Label.Name())}
		}
		s, err := standingOf(ctx, h, value)
		if err != nil {
			return err
		}
		return terminal.New(stdout, io.Discard).HistoryWithdrawn(s.Crimp, id)
	})
}

// value finds the value that is meant and looks whether it can be withdrawn.
func (o historyWithdrawOptions) value(ctx context.Context, h *history.History, id int64) (history.Value, error) {
	value, found, err := h.Value(ctx, id)
	if err != nil {
		return value, err
	}
	if o.crimp != "" {
		s, err := latestNamed(ctx, h, o.crimpName, "", "")
		if err != nil {
			return value, err
		}
		if !found || !slices.ContainsFunc(s.Crimp.Elsewhere, func(e site.Elsewhere) bool { return e.ID == id }) {
			return value, fmt.Errorf("%q has no value %d; it has %s", s.Crimp.Name(), id, numbersOf(s.Crimp.Elsewhere))
		}
	}
	if !found {
		there, err := allNumbers(ctx, h)
		if err != nil {
			return value, err
		}
		return value, fmt.Errorf("there is no value %d; %s", id, there)
	}
	if value.Withdrawn != "" {
		return value, fmt.Errorf("value %d of %q was %s; once is enough", id, value.Label.Name(), value.Withdrawn)
	}
	return value, nil
}

// numbersOf lists the values of a crimp that can be withdrawn.
func numbersOf(values []site.Elsewhere) string {
	var texts []string
	for _, e := range values {
		if e.Withdrawn == "" {
			texts = append(texts, strconv.FormatInt(e.ID, 10)+" ("+string(e.Key)+")")
		}
	}
	if texts == nil {
		return "none that stands"
	}
	return strings.Join(texts, ", ")
}

// allNumbers tells which values stand, the latest first.
func allNumbers(ctx context.Context, h *history.History) (string, error) {
	const most = 10
	var texts []string
	err := h.Values(ctx, func(v history.Value) error {
		if v.Withdrawn == "" && len(texts) <= most {
			texts = append(texts, fmt.Sprintf("%d (%s of %q)", v.ID, v.Key, v.Label.Name()))
		}
		return nil
	})
	switch {
	case err != nil:
		return "", err
	case texts == nil:
		return "the history has none that stands", nil
	case len(texts) > most:
		return "the latest that stand are " + strings.Join(texts[:most], ", ") + "; name the crimp by --crimp to see its own", nil
	}
	return "those that stand are " + strings.Join(texts, ", "), nil
}

// standingOf gives the crimp of a value, judged: of those of several days the one that it belongs to.
func standingOf(ctx context.Context, h *history.History, v history.Value) (history.Standing, error) {
	l := v.Label
	found, err := h.Named(ctx, l.Crimp, l.String, l.Trainee)
	if err != nil {
		return history.Standing{}, err
	}
	s := history.Standing{Crimp: site.Crimp{Label: l}, Source: v.Source}
	for _, other := range found { // they come by day
		o := other.Crimp.Label
		same := o.String == l.String && o.Trainee == l.Trainee && o.Crimp == l.Crimp && slices.ContainsFunc(other.Crimp.Elsewhere, func(e site.Elsewhere) bool { return e.ID == v.ID })
		if same && (s.Scan == 0 || o.Date == v.Made || v.Made == "" && o.Date <= v.When) {
			s = other
		}
	}
	if s.Crimp.Elsewhere, err = h.Elsewhere(ctx, s.Crimp.Label, s.Source); err != nil {
		return s, err
	}
	return s, h.NewJudge().Settle(ctx, &s)
}
