package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"reseal/cmd/reseal/layer"
	"reseal/condition"
	"reseal/forecast"
	"reseal/geo/geojson"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func exportCommand(w world) *cli.Command {
	var names []string
	for _, l := range layer.All() {
		names = append(names, l.Name())
	}
	which := strings.Join(names, "|")
	flags := append([]cli.Flag{
		&cli.StringFlag{Name: "fields", Usage: "only the fields `A,B,C`, in that order"},
		&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Value: "-", Usage: "to this `FILE`; - is standard output"},
		&cli.StringFlag{Name: "due-by", Usage: "for due: the `DAY` up to which inspections are wanted; today if not given"},
		&cli.BoolFlag{Name: "closed", Usage: "for findings: closed ones too"},
	}, append(workListFlags(), filterFlags()...)...)
	wktFlag := &cli.BoolFlag{Name: "wkt", Usage: "the whole geometry as well-known text, instead of lon and lat of its middle"}
	return &cli.Command{
		Name:  "export",
		Usage: "the inventory for other programs: GeoJSON, CSV, XLSX, GeoPackage",
		Subcommands: []*cli.Command{
			{
				Name: "geojson", Usage: "a layer as GeoJSON (RFC 7946)", ArgsUsage: which,
				Description: "WGS 84, longitude first. Joints are lines across the deck; what has no place has a null geometry.\n\n" +
					"example: reseal export geojson joints --district 03 --output joints.geojson\nexample: reseal export geojson joints --lines --points --fields tag,seal_kind,worst_state",
				Flags: append([]cli.Flag{
					&cli.BoolFlag{Name: "lines", Usage: "one feature a line, and nothing around them (newline-delimited)"},
					&cli.BoolFlag{Name: "points", Usage: "joints as the points halfway along them"},
				}, flags...),
				Action: func(c *cli.Context) error { return runExport(c, w, openGeojson) },
			},
			{
				Name: "csv", Usage: "a layer as CSV", ArgsUsage: which,
				Description: "Dates are ISO 8601, numbers plain, the place in lon and lat.\n\nexample: reseal export csv due --due-by 2027-06-30 --output due.csv",
				Flags:       append([]cli.Flag{wktFlag}, flags...),
				Action:      func(c *cli.Context) error { return runExport(c, w, openCSV) },
			},
			{
				Name: "xlsx", Usage: "a layer as a workbook", ArgsUsage: which,
				Description: "Dates are dates, and texts are never formulas.\n\nexample: reseal export xlsx findings --output findings.xlsx",
				Flags:       append([]cli.Flag{wktFlag}, flags...),
				Action:      func(c *cli.Context) error { return runExport(c, w, openXLSX) },
			},
			{
				Name: "gpkg", Usage: "a consistent copy of the whole inventory, a GeoPackage",
				Description: "Safe while others work on the inventory.\n\nexample: reseal export gpkg --output copy.gpkg",
				Flags:       []cli.Flag{&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "to this `FILE`"}},
				Action:      func(c *cli.Context) error { return exportCopy(c, w) },
			},
		},
	}
}

// openSink begins a file of one format.
type openSink func(c *cli.Context, w io.Writer, name string, columns []table.Column) (layer.Sink, error)

func openGeojson(c *cli.Context, w io.Writer, _ string, columns []table.Column) (layer.Sink, error) {
	return layer.NewGeoJSON(w, columns, geojson.Options{Lines: c.Bool("lines")}), nil
}

func openCSV(c *cli.Context, w io.Writer, _ string, columns []table.Column) (layer.Sink, error) {
	return layer.NewTable(columns, c.Bool("wkt"), func(all []table.Column) (*table.Writer, error) { return table.NewCSV(w, all) })
}

func openXLSX(c *cli.Context, w io.Writer, name string, columns []table.Column) (layer.Sink, error) {
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		return nil, usagef("a workbook is not for reading on a terminal: name a file with --output")
	}
	return layer.NewTable(columns, c.Bool("wkt"), func(all []table.Column) (*table.Writer, error) { return table.NewXLSX(w, name, all) })
}

func runExport(c *cli.Context, w world, open openSink) error {
	l, err := layerArg(c)
	if err != nil {
		return err
	}
	q, dueBy, err := exportQueryFrom(c, w)
	if err != nil {
		return err
	}
	columns, err := l.Columns(q.Fields)
	if err != nil {
		return usageError{err}
	}
	return reading(c, w, func(s *store.Store) error {
		q.Due = func(ctx context.Context) ([]*condition.Due, error) {
			return condition.DueBy(ctx, s.Read(), q.Filter, dueBy, condition.DueRules{})
		}
		q.WorkList = func(ctx context.Context) (*forecast.WorkList, error) { return exportedWorkList(ctx, c, w, s, q) }
		return toOutput(w, c.String("output"), func(out io.Writer) error {
			to, err := open(c, out, l.Name(), columns)
			if err != nil {
				return err
			}
			exportCaution(w, l)
			return exportTo(c.Context, s, w, l, q, to)
		})
	})
}

// exportTo writes a layer to a sink and completes it.
func exportTo(ctx context.Context, s *store.Store, w world, l layer.Layer, q layer.Query, to layer.Sink) error {
	p := startProgress(w.err, "writing "+l.Name(), 0)
	defer p.end()
	q.Tick = p.add
	if err := l.Write(ctx, s, q, to); err != nil {
		return err
	}
	return to.Close()
}

func layerArg(c *cli.Context) (layer.Layer, error) {
	var names []string
	for _, l := range layer.All() {
		if c.Args().Len() == 1 && c.Args().First() == l.Name() {
			return l, nil
		}
		names = append(names, l.Name())
	}
	return nil, usagef("say what to export, one of: %s", strings.Join(names, ", "))
}

func exportQueryFrom(c *cli.Context, w world) (q layer.Query, dueBy inventory.Date, err error) {
	q = layer.Query{Points: c.Bool("points"), Closed: c.Bool("closed"), Today: inventory.DateOf(w.now())}
	if q.Filter, err = filterFrom(c); err != nil {
		return q, dueBy, err
	}
	if q.Filter.WithinFt = 0; q.Filter.Near != nil {
		q.Filter.WithinFt = c.Float64("within")
	}
	if !c.IsSet("sort") { // the order of record, where nothing narrows
		q.Filter.Sort = ""
	}
	for _, name := range strings.Split(c.String("fields"), ",") {
		if name = strings.TrimSpace(name); name != "" {
			q.Fields = append(q.Fields, name)
		}
	}
	dueBy = q.Today
	if day := c.String("due-by"); day != "" {
		if dueBy, err = inventory.ParseDate(day); err != nil {
			return q, dueBy, usagef("--due-by: %w", err)
		}
	}
	return q, dueBy, nil
}

// exportedWorkList makes the list that --year and --budget ask for.
func exportedWorkList(ctx context.Context, c *cli.Context, w world, s *store.Store, q layer.Query) (*forecast.WorkList, error) {
	tables, err := forecast.LoadTables(ctx, s.Read())
	if err != nil {
		return nil, err
	}
	m, err := forecast.NewModel(tables)
	if err != nil {
		return nil, err
	}
	return workListOf(c, w, s, m, forecast.Options{AsOf: q.Today, Filter: q.Filter})
}

// workListFlags choose the year and the money of a work list.
func workListFlags() []cli.Flag {
	return []cli.Flag{
		&cli.IntFlag{Name: "year", Usage: "for worklist: the fiscal `YEAR` of the work; next year if not given"},
		&cli.StringFlag{Name: "budget", Usage: "for worklist: `DOLLARS` to spend, nominal"},
	}
}

// exportCaution goes with an export that sends people to work.
func exportCaution(w world, l layer.Layer) {
	switch l.Name() {
	case "worklist":
		fmt.Fprintln(w.err, caution)
	case "due":
		fmt.Fprintln(w.err, layer.DueCaution)
	}
}

// toOutput gives write the named file, which appears only when it is complete,
// or standard output for "-".
func toOutput(w world, path string, write func(io.Writer) error) error {
	if path == "-" {
		return write(w.out)
	}
	f, err := newWholeFile(path)
	if err != nil {
		return err
	}
	defer f.discard()
	if err := write(f); err != nil {
		return fmt.Errorf("%s was not written: %w", path, err)
	}
	if err := f.keep(); err != nil {
		return err
	}
	fmt.Fprintln(w.err, "wrote", path)
	return nil
}

// exportCopy copies the inventory as it is at one moment.
func exportCopy(c *cli.Context, w world) error {
	path := c.String("output")
	switch {
	case c.Args().Present():
		return usagef("export gpkg copies the whole inventory, and takes no layer")
	case path == "" || path == "-":
		return usagef("name the copy with --output, for example --output copy.gpkg")
	}
	return reading(c, w, func(s *store.Store) error {
		if same(path, s.Path()) {
			return store.Invalid("name another file with --output", "%s is the inventory itself", path)
		}
		return toOutput(w, path, func(out io.Writer) error {
			return s.CopyTo(c.Context, out.(*wholeFile).Name())
		})
	})
}

// same tells whether two names lead to one file.
func same(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}
