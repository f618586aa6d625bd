package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // the zones of plants, wherever the program runs

	"github.com/alecthomas/kong"

	"wetdown/solver/plant"
)

// Exit codes.
const (
	done     = 0
	no       = 1
	badInput = 2
	internal = 3
)

func main() {
	// The first interrupt asks for the best that is known; after it the signal has
	// its own effect again, so that a second one ends the program at once.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, time.Now))
}

// A command is one verb of the program.
type command interface {
	run(s *session) (code int, err error)
}

// A session is one run of the program.
type session struct {
	flags
	ctx    context.Context
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	clock  func() time.Time

	warnings []plant.Fault   // of the files read
	insist   *conditionFlags // what the person insists on; nil: nothing
}

// A refusal is bad input or usage: one line for each fault.
type refusal []string

func (r refusal) Error() string { return strings.Join(r, "\n") }

// refuse makes a refusal of one fault. It says what to do instead.
func refuse(format string, args ...any) error { return refusal{fmt.Sprintf(format, args...)} }

// run carries out one command line and returns the exit code. Nothing is read or
// written but what the arguments name and the three streams.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer, clock func() time.Time) (code int) {
	defer func() {
		if r := recover(); r != nil {
			fmt.Fprintf(stderr, "wetdown: internal fault: %v\nKeep the input and report this with what follows.\n%s", r, debug.Stack())
			code = internal
		}
	}()
	cmd, f, finished, err := parse(args, stdout, stderr)
	if finished {
		return done
	}
	if err == nil {
		s := &session{flags: f, ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr, clock: clock}
		if f.Limit > 0 {
			limited, cancel := context.WithTimeout(ctx, f.Limit)
			defer cancel()
			s.ctx = limited
		}
		code, err = cmd.run(s)
	}
	var r refusal
	switch {
	case errors.As(err, &r):
		for _, line := range r {
			fmt.Fprintf(stderr, "wetdown: %s\n", line)
		}
		return badInput
	case err != nil:
		fmt.Fprintf(stderr, "wetdown: internal fault: %v\nKeep the input and report this.\n", err)
		return internal
	}
	return code
}

// parse reads the command line. finished: help was asked for and printed.
func parse(args []string, stdout, stderr io.Writer) (cmd command, f flags, finished bool, err error) {
	var c cli
	k, err := kong.New(&c,
		kong.Name("wetdown"),
		kong.Description(description),
		kong.Writers(stdout, stderr),
		kong.Exit(func(int) { finished = true }),
		kong.WithHyphenPrefixedParameters(true), // --days -2
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: pageWidth}),
	)
	if err != nil {
		return nil, f, false, err
	}
	x, err := k.Parse(args)
	switch {
	case finished:
		return nil, f, true, nil
	case err != nil:
		return nil, f, false, refuse("%s. Next: wetdown --help lists the commands, wetdown COMMAND --help what one takes", strings.TrimRight(err.Error(), ".?"))
	}
	if c.Limit < 0 || c.Limit == 0 && given(x, "limit") {
		return nil, f, false, refuse("--limit %s leaves no time to plan: give a length of time such as 30s or 5m, or leave it out", c.Limit)
	}
	return x.Selected().Target.Addr().Interface().(command), c.flags, false, nil
}

// given reports whether a flag stands on the command line.
func given(x *kong.Context, flag string) bool {
	for _, p := range x.Path {
		if p.Flag != nil && p.Flag.Name == flag {
			return true
		}
	}
	return false
}
