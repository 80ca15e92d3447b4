package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// importer takes one file in.
type importer func(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error)

func importCommand(w world) *cli.Command {
	flags := []cli.Flag{
		dryRunFlag,
		&cli.StringFlag{Name: "skip-bad", Usage: "take the good rows, and write the bad ones with their reason to `FILE`"},
	}
	verbs := []*cli.Command{
		{
			Name: "bridges", Usage: "bridges, from National Bridge Inventory text or a spreadsheet", ArgsUsage: "FILE…",
			Description: "Bridges on record are brought up to date where the file says something. Which of\nthe two a file is shows in its header.\n\nexample: reseal import bridges AK19.txt",
			Flags:       append(flags, sheetFlag, &cli.StringFlag{Name: "state", Usage: "two-digit FIPS `CODE` of bridges whose row names no state"}),
			Action:      func(c *cli.Context) error { return runImport(c, w, importBridges) },
		},
		{
			Name: "elements", Usage: "joints and their condition, from FHWA bridge element XML", ArgsUsage: "FILE…",
			Description: "Elements 300 to 306 become joints, each known as a quantity of its bridge; joint\nsplit and joint propose make real ones of them. Import the years in order, and\neach year after that year's bridges, which date the inspections.\n\nexample: reseal import elements --year 2015 2015OR_ElementData.xml",
			Flags:       append(flags, &cli.IntFlag{Name: "year", Usage: "the `YEAR` of submission; taken from a file name that has one year in it"}),
			Action:      func(c *cli.Context) error { return importElements(c, w) },
		},
	}
	for _, k := range sheetKinds {
		if k.take == nil { // has a command of its own above
			continue
		}
		own := append(append([]cli.Flag{}, flags...), sheetFlag)
		if k.odd {
			own = append(own, &cli.BoolFlag{Name: "accept-odd", Usage: "take what is merely odd, with a mark"})
		}
		verbs = append(verbs, &cli.Command{
			Name: k.name, Usage: k.usage + ", from a spreadsheet (CSV or XLSX)", ArgsUsage: "FILE…",
			Description: k.help + "\nColumns are known by name: see reseal import template " + k.name + " --describe.\n\nexample: reseal import " + k.name + " " + k.name + ".csv",
			Flags:       own,
			Action:      func(c *cli.Context) error { return runImport(c, w, k.take) },
		})
	}
	verbs = append(verbs, templateCommand(w))
	return &cli.Command{Name: "import", Usage: "take in bridge inventories, element data and spreadsheets", Subcommands: verbs}
}

// importBridges takes in either form of a bridge file.
func importBridges(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error) {
	if inventory.IsNBI(r) {
		return inventory.ImportNBI(ctx, tx, r, name, opt)
	}
	return inventory.ImportBridges(ctx, tx, r, name, opt)
}

func importElements(c *cli.Context, w world) error {
	return runImport(c, w, func(ctx context.Context, tx *store.Tx, r *bufio.Reader, name string, opt inventory.IntakeOptions) (inventory.Intake, error) {
		year := c.Int("year")
		if year == 0 {
			if year = yearIn(name); year == 0 {
				return inventory.Intake{}, usagef("say with --year in which year %s was submitted", name)
			}
		}
		if year < 1990 || year > w.now().Year()+1 {
			return inventory.Intake{}, usagef("--year %d cannot be", year)
		}
		return condition.ImportElements(ctx, tx, r, name, year, opt)
	})
}

var fourDigits = regexp.MustCompile(`(?:19|20)\d\d`)

// yearIn is the only year in a file name, or 0.
func yearIn(name string) int {
	found := fourDigits.FindAllString(name, -1)
	if len(found) != 1 {
		return 0
	}
	year, _ := strconv.Atoi(found[0])
	return year
}

// runImport takes the files that the command line names in, all in one
// transaction.
func runImport(c *cli.Context, w world, take importer) error {
	if !c.Args().Present() {
		return usagef("name the files to import; - is standard input")
	}
	opt := inventory.IntakeOptions{
		Sheet: c.String("sheet"), State: c.String("state"), AcceptOdd: c.Bool("accept-odd"), Today: inventory.DateOf(w.now()),
	}
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
			in, err := importOne(c, w, tx, path, opt, take)
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

func importOne(c *cli.Context, w world, tx *store.Tx, path string, opt inventory.IntakeOptions, take importer) (inventory.Intake, error) {
	in, closeFile, err := openInput(path, w)
	if err != nil {
		return inventory.Intake{}, err
	}
	defer closeFile()
	name := filepath.Base(path)
	p := startProgress(w.err, "reading "+name, 0)
	defer p.end()
	opt.Tick = p.add
	return take(c.Context, tx, in, name, opt)
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
	r := bufio.NewReaderSize(src, 1<<18)
	if magic, _ := r.Peek(2); bytes.Equal(magic, []byte{0x1f, 0x8b}) {
		z, err := gzip.NewReader(r)
		if err != nil {
			closeFile()
			return nil, nil, fmt.Errorf("%s: %w", path, err)
		}
		r = bufio.NewReaderSize(z, 1<<18)
	}
	return r, closeFile, nil
}

func tellIntake(w io.Writer, in inventory.Intake) {
	fmt.Fprintf(w, "%s: read %d; %s added %d, changed %d, unchanged %d\n", in.File, in.Read, in.What, in.Added, in.Changed, in.Unchanged)
	for _, n := range in.Notices {
		fmt.Fprintln(w, "  "+n)
	}
}
