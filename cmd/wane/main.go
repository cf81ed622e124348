// Command wane follows grow-light fixtures over the years: loggers and surveys
// in, one answer out: when does each lamp fall under the level at which it
// should be replaced, how sure is that, and what should be done about it.
//
// Each command is a file of its own here; what they share is the site folder
// (site.go), the batch (internal/batch) and the printing of tables
// (internal/show).
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
	"time"

	"wane/cmd/wane/internal/show"
)

func main() {
	if os.Getenv("GOGC") == "" { // a command lives for seconds: memory for fewer collections
		debug.SetGCPercent(200)
	}
	if os.Getenv("GOMEMLIMIT") == "" { // near it they are frequent again: a night of 10,000 fixtures stays under 2 GiB
		debug.SetMemoryLimit(1280 << 20)
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() { // the second signal ends the program at once
		<-ctx.Done()
		stop()
	}()
	err := run(ctx, env{args: os.Args[1:], stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, now: time.Now})
	os.Exit(exitCode(ctx, err, os.Stderr))
}

// env is all that a command has of the world: what the tests put in its place.
type env struct {
	args           []string
	stdin          io.Reader
	stdout, stderr io.Writer
	now            func() time.Time
}

// run is the program without its process.
func run(ctx context.Context, e env) error {
	root := newRoot(e)
	root.SetArgs(e.args)
	root.SetIn(e.stdin)
	root.SetOut(e.stdout)
	root.SetErr(e.stderr)
	return errors.Join(root.ExecuteContext(ctx), show.Flush(root.OutOrStdout()))
}

// The exit statuses.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitPerson      = 3
	exitInterrupted = 130
)

// exitCode says what went wrong on stderr and gives the process's status.
func exitCode(ctx context.Context, err error, stderr io.Writer) int {
	code := status(ctx, err)
	var person needsPerson
	switch {
	case code == exitDone:
	case code == exitInterrupted:
		fmt.Fprintln(stderr, "wane: interrupted; what was not finished is done by the next run")
	case errors.As(err, &person):
		for _, line := range person.what {
			fmt.Fprintf(stderr, "wane: needs a person: %s\n", show.OneLine(line)) // it may hold names out of files
		}
	default:
		fmt.Fprintf(stderr, "wane: %v\n", err)
	}
	return code
}

// status is the process's status for the error with which a command ended.
func status(ctx context.Context, err error) int {
	var usage usageError
	var person needsPerson
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, context.Canceled) && ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &person):
		return exitPerson
	case errors.As(err, &usage), isProblems(err):
		return exitUsage
	}
	return exitFailed
}

// usageError is a command line that cannot be carried out.
type usageError struct{ error }

func usagef(format string, a ...any) error { return usageError{fmt.Errorf(format, a...)} }

// needsPerson is the end of a run that did its work and found something that
// only a person can settle.
type needsPerson struct{ what []string }

func (n needsPerson) Error() string {
	return fmt.Sprintf("done, but %d things need a person", len(n.what))
}

// person gives a needsPerson where there is something to tell, else nil.
func person(what []string) error {
	if len(what) == 0 {
		return nil
	}
	return needsPerson{what}
}
