// Command crimprule measures crimps in pictures and judges them by the user's own limits.
//
// This folder holds one file a command: flags in, one call into the library, print. A run function takes a context,
// its options and its writers, and returns an error; it neither exits nor reads global state, so that tests call it.
// What an error means for the exit status is decided here and nowhere else.
package main

import (
	"context"
	"errors"
	"io"
	"os"
	"os/signal"
	"syscall"

	"crimprule/internal/terminal"
)

// The exit statuses of every command.
const (
	exitDone          = 0   // every picture has a record, and where there were limits every crimp conforms
	exitFailed        = 1   // a picture could not be read, something could not be written, or evidence was changed
	exitWrongCall     = 2   // the call, or the tolerances file that it names, is wrong; nothing was measured
	exitNotConforming = 3   // every picture has a record, and a crimp does not conform, is not proven or not measured
	exitInterrupted   = 130 // stopped by a signal, as shells count it
)

// errUnreadable, errNotConforming and errChanged end a call whose details a person has been told already. A call can earn
// the first two; the first outranks the second, since nothing at all is known of a picture that could not be read.
var (
	errUnreadable    = errors.New("a picture has no record")
	errNotConforming = errors.New("a crimp does not conform, is not proven or is not measured")
	errChanged       = errors.New("evidence is not as it was written")
)

// wrongCall marks an error as the caller's: status 2, and the help of the command is pointed to.
type wrongCall struct {
	command string // whose help to read, as "crimprule measure"
	err     error
}

func (w wrongCall) Error() string { return w.err.Error() }
func (w wrongCall) Unwrap() error { return w.err }

func exitStatus(err error) int {
	var wrong wrongCall
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &wrong):
		return exitWrongCall
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.Is(err, errNotConforming):
		return exitNotConforming
	}
	return exitFailed
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// The first signal lets the picture in hand end at its next stage; after that a second one kills at once.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is the whole program but for the process around it.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRootCommand(stdout, stderr)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	complain(terminal.New(stdout, stderr), err)
	return exitStatus(err)
}

func complain(term *terminal.Terminal, err error) {
	var wrong wrongCall
	switch {
	case err == nil, errors.Is(err, errUnreadable), errors.Is(err, errNotConforming), errors.Is(err, errChanged):
	case errors.Is(err, context.Canceled):
		term.Complain(errors.New("interrupted; what was printed so far is whole, and a scan keeps what it has measured: call again to go on"))
	case errors.As(err, &wrong):
		term.Complain(err)
		term.Hint("see: " + wrong.command + " --help")
	default:
		term.Complain(err)
	}
}
