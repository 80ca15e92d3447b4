package main

import (
	"context"
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

var (
	dryRunFlag = &cli.BoolFlag{Name: "dry-run", Usage: "do it, tell, and take it back"}
	onFlag     = &cli.StringFlag{Name: "on", Usage: "the `DAY` it happened (YYYY-MM-DD); today if not given"}
)

// reading opens the inventory, runs fn and closes it.
func reading(c *cli.Context, w world, fn func(*store.Store) error) error {
	s, err := openStore(c, w, false)
	if err != nil {
		return err
	}
	defer s.Close()
	return fn(s)
}

// changing runs fn in one transaction, and takes it back on --dry-run.
func changing(c *cli.Context, w world, fn func(*store.Tx) error) error {
	s, err := openStore(c, w, false)
	if err != nil {
		return err
	}
	defer s.Close()
	update := s.Update
	if c.Bool("dry-run") {
		update = s.Try
	}
	return update(c.Context, actor(c), func(_ context.Context, tx *store.Tx) error { return fn(tx) })
}

// done tells on stderr what a change came to.
func done(c *cli.Context, w world, err error, format string, args ...any) error {
	if err != nil {
		return err
	}
	note := ""
	if c.Bool("dry-run") {
		note = " (dry run: nothing was kept)"
	}
	fmt.Fprintf(w.err, format+note+"\n", args...)
	return nil
}

// onDay reads --on, a day no later than today.
func onDay(c *cli.Context, w world) (inventory.Date, error) {
	if s := c.String("on"); s != "" {
		d, err := inventory.ParseDate(s)
		if err != nil {
			return d, usagef("--on: %w", err)
		}
		if today := inventory.DateOf(w.now()); today.Before(d) {
			return d, store.Invalid(fmt.Sprintf("correct the date; today is %s", today), "--on: %s is in the future", d)
		}
		return d, nil
	}
	return inventory.DateOf(w.now()), nil
}

// oneArg returns the command's only argument.
func oneArg(c *cli.Context, what string) (string, error) {
	if c.Args().Len() != 1 {
		return "", usagef("give %s, and nothing else", what)
	}
	return c.Args().First(), nil
}

func orUsage(err error, format string, args ...any) error {
	if err != nil {
		return err
	}
	return usagef(format, args...)
}

// history lists the changes of one row.
func history(c *cli.Context, w world, table, what string, find func(*store.Store, string) (int64, error)) error {
	ref, err := oneArg(c, what)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out, column{name: "at", heading: "when (UTC)"}, column{name: "by", heading: "who", shrink: true},
		column{name: "column", heading: "what", shrink: true}, column{name: "before", heading: "before", shrink: true},
		column{name: "after", heading: "after", shrink: true})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		id, err := find(s, ref)
		if err != nil {
			return err
		}
		changes, err := store.History(c.Context, s.Read(), table, id)
		if err != nil {
			return err
		}
		for _, change := range changes {
			for _, f := range change.Fields {
				before, after := text(f.Before), text(f.After)
				if f.Column == "geom" && out.format == "table" { // nobody reads its bytes
					before, after = "", "drawn anew"
				}
				if err := out.add(change.At, change.By, f.Column, before, after); err != nil {
					return err
				}
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		if len(changes) == 0 {
			fmt.Fprintln(w.err, "nothing of it has been changed since it was put on record")
		}
		return nil
	})
}

func text(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case float64: // ten digits tell all that was entered
		return strconv.FormatFloat(v, 'g', 10, 64)
	}
	return fmt.Sprint(v)
}
