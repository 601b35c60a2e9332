// Jigloupe grades the finish of powder-painted jig heads from photographs on a
// grey card.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"

	"jigloupe/calib/codec"
)

// version goes into every results file; raise it when a measure changes.
const version = "0.1.0"

// Exit codes: every piece passes, some piece does not, it could not run.
const (
	exitPass   = 0
	exitFaults = 1
	exitFailed = 2
)

// errFaults makes the program end with exitFaults and say nothing more: the
// results have said it.
var errFaults = errors.New("not every piece passes")

func main() {
	codec.Isolate()
	os.Exit(run(os.Args[1:]))
}

func run(args []string) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	root := newRootCmd()
	root.SetArgs(args)
	out := &printed{}
	root.SetOut(out)
	ran := root
	done := make(chan error, 1)
	go func() {
		c, err := root.ExecuteContextC(ctx)
		ran = c
		done <- err
	}()
	var err error
	select {
	case err = <-done:
	case <-ctx.Done():
		// A photo under way is not waited for longer than this: nothing is in
		// its place yet, so nothing can be half done.
		select {
		case err = <-done:
		case <-time.After(600 * time.Millisecond):
			err = ctx.Err()
		}
	}
	if out.err != nil && (err == nil || errors.Is(err, errFaults)) {
		err = out.err
	}
	switch {
	case err == nil:
		return exitPass
	case errors.Is(err, errFaults):
		return exitFaults
	case ctx.Err() != nil:
		if term.IsTerminal(int(os.Stderr.Fd())) {
			fmt.Fprintln(os.Stderr) // below the progress
		}
		fmt.Fprintln(os.Stderr, "jigloupe: stopped; grade again to go on from there")
		return exitFailed
	}
	fmt.Fprintf(os.Stderr, "jigloupe: error: %s\n", oneLine(inWords(err)))
	if h := hint(ran, err); h != "" {
		fmt.Fprintf(os.Stderr, "jigloupe: hint: %s\n", h)
	}
	return exitFailed
}

// printed is what goes to standard output, and whether it got there: no print is looked
// after by itself.
type printed struct{ err error }

func (p *printed) Write(text []byte) (int, error) {
	n, err := os.Stdout.Write(text)
	var file *os.PathError
	if errors.As(err, &file) {
		err = hinted{fmt.Errorf("what it prints can't be written: %w", file.Err), "print it to another place"}
		p.err = err
	}
	return n, err
}
