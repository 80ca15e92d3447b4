package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast/sample"
	"reseal/inventory"
	"reseal/inventory/store"
)

func demoCommand(w world) *cli.Command {
	return &cli.Command{
		Name:        "demo",
		Usage:       "build an invented network and run the whole job on it",
		Description: "Makes a folder with an invented inventory and everything that the commands make of\nit, and tells which command made what. Nothing in it is real.\n\nexample: reseal demo --dir reseal-demo",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "dir", Value: "reseal-demo", Usage: "the `FOLDER` to make"},
			&cli.Uint64Flag{Name: "seed", Value: 1, Usage: "another `NUMBER` makes another network"},
		},
		Action: func(c *cli.Context) error { return demo(c, w) },
	}
}

// step is one command of the demo, and what its answer is for.
type step struct {
	file string // that its answer goes to; empty: shown
	why  string
	args []string
}

// steps are the season's work, with the money of a year.
func steps(year int, budget string) []step {
	next := fmt.Sprint(year + 1)
	return []step{
		{"check.csv", "what is missing or contradictory in the records, case by case", []string{"check", "--cases", "--format", "csv"}},
		{"due.csv", "the inspections due, in the order of travel", []string{"due", "--format", "csv"}},
		{"", "", []string{"forecast", "--to", fmt.Sprint(year + 12)}},
		{"forecast.csv", "each joint's replacement year with its 10-90 % band", []string{"forecast", "--joints", "--format", "csv"}},
		{"gap.csv", "the joints whose opening needs attention, worst first", []string{"gap", "--all", "--format", "csv"}},
		{"worklist.csv", "next season's ranked list", []string{"worklist", "--year", next, "--budget", budget, "--format", "csv"}},
		{"worklist.xlsx", "the same list as a workbook", []string{"export", "xlsx", "worklist", "--year", next, "--budget", budget}},
		{"worklist.geojson", "the same list as a map layer", []string{"export", "geojson", "worklist", "--year", next, "--budget", budget}},
		{"crew-sheets.html", "the crew's page for each joint above the line; print it from a browser", []string{"sheet", "--worklist", "--year", next, "--budget", budget}},
		{"budget.csv", "ten years by district", []string{"budget", "--years", "10", "--per", "district", "--format", "csv"}},
		{"report.html", "the network on one page: map, money, condition; print it from a browser", []string{"report", "--yearly", budget, "--years", "6", "--levels", "50,150"}},
		{"joints.geojson", "every joint as a line, for any map", []string{"export", "geojson", "joints"}},
		{"joints.xlsx", "every joint with its latest condition, as a workbook", []string{"export", "xlsx", "joints"}},
		{"", "", []string{"worklist", "--year", next, "--budget", budget, "--limit", "10"}},
		{"", "", []string{"budget", "--years", "10"}},
	}
}

func demo(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("demo takes no argument; name the folder with --dir")
	}
	dir := c.String("dir")
	if err := os.Mkdir(dir, 0o755); err != nil {
		return store.Invalid("name another folder with --dir, or remove this one", "%s cannot be made: %v", dir, err)
	}
	db := filepath.Join(dir, "inventory.gpkg")
	made, err := makeSample(c, w, db)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%s\n\nMade %d bridges, %d joints, %d inspections, %d gap readings, %d pieces of work, %d findings.\n",
		sample.Notice, made.Bridges, made.Joints, made.Inspections, made.Readings, made.Work, made.Findings)

	var files strings.Builder
	fmt.Fprintf(&files, "%s\n\ninventory.gpkg\n  the inventory: open it in a GIS as a map, or with reseal --db inventory.gpkg\n", sample.Notice)
	w.lists = workLists{} // nothing below changes the inventory
	for _, s := range steps(w.now().Year(), "750000") {
		if err := s.run(c.Context, w, dir, db); err != nil {
			return err
		}
		if s.file != "" {
			fmt.Fprintf(&files, "%s\n  %s\n  reseal --db inventory.gpkg %s\n", s.file, s.why, strings.Join(s.args, " "))
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "README.txt"), []byte(files.String()), 0o644); err != nil {
		return fmt.Errorf("write the folder's README: %w", err)
	}
	fmt.Fprintf(w.out, "\n%s\nAll of it is in %s; README.txt there tells what each file is. To go on:\n", sample.Notice, dir)
	fmt.Fprintf(w.out, "  reseal --db %s serve    (the map and all else in a browser)\n", db)
	for _, try := range []string{"joint list --worst 4 --sort condition --limit 20", "joint show J000007", "forecast J000007", "gap J000007", "due --trips", "check"} {
		fmt.Fprintf(w.out, "  reseal --db %s %s\n", db, try)
	}
	return nil
}

// makeSample makes the inventory and puts the invented network into it.
func makeSample(c *cli.Context, w world, path string) (made sample.Made, err error) {
	s, err := store.Open(c.Context, path, store.Options{Create: true, Now: w.now})
	if err != nil {
		return made, err
	}
	defer s.Close()
	return sample.Fill(c.Context, s, "demo", sample.Options{Seed: c.Uint64("seed"), Today: inventory.DateOf(w.now())})
}

// run runs the command as a user would, its answer into a file of the folder
// or onto the screen.
func (s step) run(ctx context.Context, w world, dir, db string) error {
	args := append([]string{"reseal", "--db", db, "--by", "demo"}, s.args...)
	var messages bytes.Buffer
	inner := world{in: strings.NewReader(""), out: w.out, err: &messages, now: w.now, lists: w.lists}
	if strings.HasSuffix(s.file, ".html") || strings.HasSuffix(s.file, ".xlsx") {
		args = append(args, "--output", filepath.Join(dir, s.file))
		inner.out = io.Discard
	} else if s.file != "" {
		f, err := newWholeFile(filepath.Join(dir, s.file))
		if err != nil {
			return err
		}
		defer f.discard()
		inner.out = f
		if code := run(ctx, args, inner); code != exitDone {
			return s.failed(code, messages.String())
		}
		return f.keep()
	} else {
		fmt.Fprintf(w.out, "\n> reseal %s\n", strings.Join(s.args, " "))
	}
	code := run(ctx, args, inner)
	if code == exitRejected { // a sheet that cannot be made without a choice
		fmt.Fprint(w.err, messages.String())
		return nil
	}
	if code != exitDone {
		return s.failed(code, messages.String())
	}
	return nil
}

func (s step) failed(code int, messages string) error {
	if code == exitInterrupted {
		return context.Canceled
	}
	return fmt.Errorf("reseal %s: exit %d: %s", strings.Join(s.args, " "), code, messages)
}
