package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"reseal/condition/intake"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func importCommand(w world) *cli.Command {
	var verbs []*cli.Command
	for _, k := range intake.Kinds() {
		verbs = append(verbs, importKind(w, k))
	}
	verbs = append(verbs, templateCommand(w))
	return &cli.Command{Name: "import", Usage: "take in bridge inventories, element data and spreadsheets", Subcommands: verbs}
}

func importKind(w world, k intake.Kind) *cli.Command {
	flags := []cli.Flag{
		dryRunFlag,
		&cli.StringFlag{Name: "skip-bad", Usage: "take the good rows, and write the bad ones with their reason to `FILE`"},
	}
	holds, example := k.Holds, k.Name+".csv"
	help := k.Help
	if k.Sheet != nil {
		flags = append(flags, &cli.StringFlag{Name: "sheet", Usage: "the `NAME` of the sheet of a workbook; the first if not given"})
	}
	switch k.Name {
	case "bridges":
		flags = append(flags, &cli.StringFlag{Name: "state", Usage: "two-digit FIPS `CODE` of bridges whose row names no state"})
		example = "AK19.txt"
	case "elements":
		flags = append(flags, &cli.IntFlag{Name: "year", Usage: "the `YEAR` of submission; taken from a file name that has one year in it"})
		example = "--year 2015 2015OR_ElementData.xml"
	default:
		holds += ", from a spreadsheet (CSV or XLSX)"
		help += "\nColumns are known by name: see reseal import template " + k.Name + " --describe."
	}
	if k.Odd {
		flags = append(flags, &cli.BoolFlag{Name: "accept-odd", Usage: "take what is merely odd, with a mark"})
	}
	return &cli.Command{
		Name: k.Name, Usage: holds, ArgsUsage: "FILE…",
		Description: help + "\n\nexample: reseal import " + k.Name + " " + example,
		Flags:       flags,
		Action:      func(c *cli.Context) error { return runImport(c, w, k) },
	}
}

// runImport takes the files that the command line names in, all in one
// transaction.
func runImport(c *cli.Context, w world, k intake.Kind) error {
	if !c.Args().Present() {
		return usagef("name the files to import; - is standard input")
	}
	opt := intake.Options{Year: c.Int("year"), IntakeOptions: inventory.IntakeOptions{
		Sheet: c.String("sheet"), State: c.String("state"), AcceptOdd: c.Bool("accept-odd"), Today: inventory.DateOf(w.now()),
	}}
	if opt.State != "" && len(opt.State) != 2 {
		return usagef("--state is a two-digit FIPS code, for example 41, not %q", opt.State)
	}
	var bad *wholeFile
	if path := c.String("skip-bad"); path != "" {
		if c.Args().Len() > 1 {
			return usagef("--skip-bad goes with one file, whose columns its own file keeps; import the files one by one")
		}
		var err error
		if bad, err = newWholeFile(path); err != nil {
			return err
		}
		defer bad.discard()
		opt.Bad = bad
	}
	rejected := 0
	var results []inventory.Intake
	err := changing(c, w, func(tx *store.Tx) error {
		var all table.Faults
		hint := ""
		for _, path := range c.Args().Slice() {
			in, err := importOne(c, w, tx, path, opt, k)
			var faults *table.Faults
			if errors.As(err, &faults) { // go on: one run lists the faults of all files
				all.Join(faults)
				hint = store.Hint(err)
			} else if err != nil {
				return err
			}
			rejected += in.Rejected
			results = append(results, in)
		}
		if hint != "" {
			return store.Hinted(&all, hint)
		}
		return all.Err()
	})
	if err != nil {
		return refused(err)
	}
	for _, in := range results {
		tellIntake(w.err, in)
	}
	if c.Bool("dry-run") {
		fmt.Fprintln(w.err, "dry run: nothing was kept")
	}
	if rejected == 0 {
		return nil
	}
	fmt.Fprintf(w.err, "%d bad rows are in %s with their reason\n", rejected, c.String("skip-bad"))
	if err := bad.keep(); err != nil {
		return err
	}
	return errRejected
}

// refused says that a failed import changed nothing.
func refused(err error) error {
	var usage usageError
	if errors.As(err, &usage) || errors.Is(err, context.Canceled) {
		return err
	}
	return fmt.Errorf("%w\nnothing was imported", err)
}

func importOne(c *cli.Context, w world, tx *store.Tx, path string, opt intake.Options, k intake.Kind) (inventory.Intake, error) {
	in, closeFile, err := openInput(path, w)
	if err != nil {
		return inventory.Intake{}, err
	}
	defer closeFile()
	name := filepath.Base(path)
	p := startProgress(w.err, "reading "+name, 0)
	defer p.end()
	opt.Tick = p.add
	took, err := k.Take(c.Context, tx, in, name, opt)
	if errors.Is(err, intake.ErrYear) {
		return took, usagef("%w", err)
	}
	return took, err
}

// openInput opens a file, or standard input for "-"; what gzip packed is
// unpacked on the way.
func openInput(path string, w world) (*bufio.Reader, func() error, error) {
	var src io.Reader = w.in
	closeFile := func() error { return nil }
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return nil, nil, store.NotFound("check the name and the folder", "%s: %v", path, errors.Unwrap(err))
		}
		if info, err := f.Stat(); err == nil && info.IsDir() {
			f.Close()
			return nil, nil, store.Invalid("name the files in it", "%s is a folder", path)
		}
		src, closeFile = f, f.Close
	}
	r, err := intake.Unpack(src)
	if err != nil {
		closeFile()
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return r, closeFile, nil
}

func tellIntake(w io.Writer, in inventory.Intake) {
	fmt.Fprintf(w, "%s: read %d; %s added %d, changed %d, unchanged %d\n", in.File, in.Read, in.What, in.Added, in.Changed, in.Unchanged)
	for _, n := range in.Notices {
		fmt.Fprintln(w, "  "+n)
	}
}
