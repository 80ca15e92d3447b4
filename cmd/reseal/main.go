// Command reseal keeps the inventory of bridge deck joints, projects when each
// seal must be replaced, and makes the work lists and budgets that follow.
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

	"github.com/urfave/cli/v2"

	"reseal/inventory/store"
)

// Exit codes.
const (
	exitDone        = 0
	exitFailed      = 1
	exitUsage       = 2
	exitRejected    = 3 // done, with rejected rows
	exitInfeasible  = 4
	exitInterrupted = 130
)

// Outcomes other than plain failure that a command can end with.
var (
	errRejected   = errors.New("some rows were rejected")
	errInfeasible = errors.New("no plan meets the conditions")
)

// usageError is a command line that cannot be understood.
type usageError struct{ error }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// world is what the program touches outside itself.
type world struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time
	lists    workLists // nil: none are kept
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	os.Exit(run(ctx, os.Args, world{in: os.Stdin, out: os.Stdout, err: os.Stderr, now: time.Now}))
}

// run is the whole program: it returns the exit code.
func run(ctx context.Context, args []string, w world) int {
	app := newApp(w)
	args = hoistFlags(app, args)
	err := app.RunContext(ctx, args)
	var usage usageError
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil || errors.Is(err, context.Canceled):
		fmt.Fprintln(w.err, "reseal: interrupted; nothing was changed by the part that had not finished")
		return exitInterrupted
	case errors.Is(err, errRejected):
		return exitRejected
	}
	fmt.Fprintln(w.err, "reseal:", err)
	if hint := store.Hint(err); hint != "" {
		fmt.Fprintln(w.err, "  what to do:", hint)
	}
	switch {
	case errors.As(err, &usage):
		fmt.Fprintln(w.err, "  what to do: see", helpFor(app, args))
		return exitUsage
	case errors.Is(err, errInfeasible):
		return exitInfeasible
	}
	return exitFailed
}

func newApp(w world) *cli.App {
	app := &cli.App{
		Name:      "reseal",
		Usage:     "the inventory of bridge deck joints, their forecast, and the work that follows",
		Reader:    w.in,
		Writer:    w.out,
		ErrWriter: w.err,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "db", Value: "reseal.gpkg", EnvVars: []string{"RESEAL_DB"}, Usage: "the inventory: a `FILE`"},
			&cli.StringFlag{Name: "by", EnvVars: []string{"RESEAL_BY", "USER"}, Usage: "the `NAME` that goes on record with each change"},
		},
		Commands:               commands(w),
		HideVersion:            true,
		UseShortOptionHandling: false,
		ExitErrHandler:         func(*cli.Context, error) {}, // run decides
		CommandNotFound:        nil,
		OnUsageError:           asUsage,
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				return usagef("there is no command %q", c.Args().First())
			}
			return cli.ShowAppHelp(c)
		},
	}
	for _, c := range app.Commands {
		prepare(c)
	}
	return app
}

// prepare gives every command the same manners: a wrong flag is a usage error
// with exit 2, and a group without a verb says which verbs it has.
func prepare(c *cli.Command) {
	c.OnUsageError = asUsage
	c.CustomHelpTemplate = helpOf(c)
	if len(c.Subcommands) == 0 {
		c.HideHelpCommand = true
		return
	}
	if c.Action == nil {
		c.Action = func(ctx *cli.Context) error {
			if ctx.Args().Present() {
				return usagef("reseal %s has no verb %q", c.Name, ctx.Args().First())
			}
			return usagef("reseal %s needs a verb: %s", c.Name, verbs(c))
		}
	}
	for _, s := range c.Subcommands {
		prepare(s)
	}
}

func asUsage(_ *cli.Context, err error, _ bool) error { return usageError{err} }

func verbs(c *cli.Command) string {
	var s string
	for i, v := range c.Subcommands {
		if i > 0 {
			s += ", "
		}
		s += v.Name
	}
	return s
}

// openStore opens the inventory that the command line names, and says what
// its notice says.
func openStore(c *cli.Context, w world, create bool) (*store.Store, error) {
	s, err := store.Open(c.Context, c.String("db"), store.Options{Create: create, Now: w.now})
	if err != nil {
		return nil, err
	}
	notice, err := store.Notice(c.Context, s.Read())
	if err != nil {
		s.Close()
		return nil, err
	}
	if notice != "" {
		fmt.Fprintln(w.err, notice)
	}
	if err := knownFilter(c, s.Read()); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// actor is the name that goes on record.
func actor(c *cli.Context) string {
	if by := c.String("by"); by != "" {
		return by
	}
	return "unknown"
}

// collectAt has the garbage collector wait until the heap has grown by so many per
// cent, unless GOGC says otherwise: few where memory counts, many where little of
// it lives long.
func collectAt(percent int) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(percent)
	}
}
