package main

import (
	"cmp"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory/setting"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

func settingsCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "settings",
		Usage: "show and change the agency's settings and tables",
		Subcommands: []*cli.Command{
			{
				Name: "list", Usage: "list the settings",
				Description: "example: reseal settings list",
				Flags:       []cli.Flag{formatFlag},
				Action:      func(c *cli.Context) error { return settingsList(c, w) },
			},
			{
				Name: "show", Usage: "show one setting, what it means and what it may be", ArgsUsage: "NAME",
				Description: "example: reseal settings show failed_share",
				Action:      func(c *cli.Context) error { return settingsShow(c, w) },
			},
			{
				Name: "set", Usage: "change a setting; history keeps the value before", ArgsUsage: "NAME VALUE",
				Description: "example: reseal settings set fiscal_year_start 7",
				Flags:       []cli.Flag{dryRunFlag},
				Action:      func(c *cli.Context) error { return settingsSet(c, w) },
			},
			tableCommand(w),
		},
	}
}

func tableCommand(w world) *cli.Command {
	names := ""
	for _, t := range forecast.AllTables() {
		names += fmt.Sprintf("  %-18s %s\n", t.Name, t.Help)
	}
	return &cli.Command{
		Name:  "table",
		Usage: "list, import and export the agency's tables",
		Description: `To fill one in: settings table describe NAME tells what each column holds, settings
table export NAME writes what it has, settings table import NAME FILE puts rows in.

example: reseal settings table describe budgets`,
		Subcommands: []*cli.Command{
			{
				Name: "list", Usage: "list the tables, or a table's rows", ArgsUsage: "[TABLE]",
				Description: "The tables:\n" + names + "\nexample: reseal settings table list life_table",
				Flags:       []cli.Flag{formatFlag},
				Action:      func(c *cli.Context) error { return tableList(c, w) },
			},
			{
				Name: "describe", Usage: "what each column of a table holds, with examples", ArgsUsage: "TABLE",
				Description: "example: reseal settings table describe budgets",
				Action:      func(c *cli.Context) error { return tableDescribe(c, w) },
			},
			{
				Name: "import", Usage: "put in the rows of a CSV or XLSX file", ArgsUsage: "TABLE FILE",
				Description: "Rows are known by their first column: one that the table has is changed, others\n" +
					"are added, and rows that the file does not name stay.\n\nexample: reseal settings table import treatments treatments.csv --dry-run",
				Flags:  []cli.Flag{dryRunFlag},
				Action: func(c *cli.Context) error { return tableImport(c, w) },
			},
			{
				Name: "export", Usage: "write a table, ready to edit and import", ArgsUsage: "TABLE",
				Description: "CSV to stdout, or to a file by its ending.\n\nexample: reseal settings table export treatments > treatments.csv\nexample: reseal settings table export --output treatments.xlsx treatments",
				Flags:       []cli.Flag{&cli.StringFlag{Name: "output", Aliases: []string{"o"}, Usage: "write `FILE`, .csv or .xlsx"}},
				Action:      func(c *cli.Context) error { return tableExport(c, w) },
			},
		},
	}
}

func settingsList(c *cli.Context, w world) error {
	if c.Args().Present() {
		return usagef("settings list takes no argument")
	}
	out, err := newRows(c, w.out,
		column{name: "name", heading: "setting"}, column{name: "value", heading: "value"}, column{name: "unit"},
		column{name: "meaning", heading: "meaning", shrink: true}, column{name: "default"}, column{name: "min"}, column{name: "max"},
		column{name: "source"}, column{name: "illustrative"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		all := forecast.AllSettings()
		if err := setting.Load(c.Context, s.Read(), all); err != nil {
			return err
		}
		illustrative, mark := 0, "" // CSV and JSON have a column for it
		if out.format == "table" {
			mark = " *"
		}
		for _, d := range all {
			v := *d.Value
			invented := d.Illustrative && v == d.Default
			if invented {
				illustrative++
			}
			name := d.Name
			if invented {
				name += mark
			}
			if err := out.add(name, v, d.Unit, d.Meaning, d.Default, d.Min, d.Max, d.Source, invented); err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		if illustrative > 0 {
			notes(c, w, strings.TrimSpace(fmt.Sprintf("%s %d of them are illustrative starting values, no agency's own; see: reseal settings show NAME", mark, illustrative)))
		}
		return nil
	})
}

func settingsShow(c *cli.Context, w world) error {
	name, err := oneArg(c, "the name of a setting")
	if err != nil {
		return err
	}
	all := forecast.AllSettings()
	d, err := setting.Find(all, name)
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		if err := setting.Load(c.Context, s.Read(), all); err != nil {
			return err
		}
		source := d.Source
		if d.Illustrative {
			source += " (illustrative)"
		}
		_, err = fmt.Fprintf(w.out, "%s: %s\n  value    %g\n  unit     %s\n  default  %g, %s\n  range    %g to %g\n",
			d.Name, d.Meaning, *d.Value, d.Unit, d.Default, source, d.Min, d.Max)
		return err
	})
}

func settingsSet(c *cli.Context, w world) error {
	if c.Args().Len() != 2 {
		return usagef("give the name of a setting and its value, and nothing else")
	}
	name, value := c.Args().Get(0), c.Args().Get(1)
	err := changing(c, w, func(tx *store.Tx) error { return setting.Set(c.Context, tx, forecast.AllSettings(), name, value) })
	return done(c, w, err, "%s is %s", name, value)
}

func tableList(c *cli.Context, w world) error {
	if !c.Args().Present() {
		return tableNames(c, w)
	}
	t, err := tableArg(c, 1)
	if err != nil {
		return err
	}
	columns := make([]column, len(t.Columns))
	for i, k := range t.Columns {
		short := strings.ReplaceAll(strings.TrimSuffix(k.Name, "_usd"), "_", " ")
		columns[i] = column{name: k.Name, heading: short, shrink: k.Kind == table.Text}
	}
	out, err := newRows(c, w.out, columns...)
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		err := t.Each(c.Context, s.Read(), func(cells []any) error {
			for i, v := range cells {
				if v, ok := v.(int64); ok {
					cells[i] = cents(v)
				}
			}
			return out.add(cells...)
		})
		if err != nil {
			return err
		}
		return out.close()
	})
}

// tableNames lists the tables themselves.
func tableNames(c *cli.Context, w world) error {
	out, err := newRows(c, w.out, column{name: "table", heading: "table"}, column{name: "what", heading: "what it holds", shrink: true})
	if err != nil {
		return err
	}
	for _, t := range forecast.AllTables() {
		if err := out.add(t.Name, t.Help); err != nil {
			return err
		}
	}
	return out.close()
}

// tableDescribe prints what each column of a table holds.
func tableDescribe(c *cli.Context, w world) error {
	t, err := tableArg(c, 1)
	if err != nil {
		return err
	}
	fmt.Fprintf(w.out, "%s: %s\n\n", t.Name, t.Help)
	return table.Describe(w.out, t.Columns)
}

func tableImport(c *cli.Context, w world) error {
	t, err := tableArg(c, 2)
	if err != nil {
		return err
	}
	in, closeFile, err := openInput(c.Args().Get(1), w)
	if err != nil {
		return err
	}
	defer closeFile()
	r, err := table.NewReader(in, filepath.Base(c.Args().Get(1)), t.Columns, table.Options{})
	if err != nil {
		return refused(err)
	}
	defer r.Close()
	changed := 0
	err = changing(c, w, func(tx *store.Tx) (err error) {
		changed, err = t.Import(c.Context, tx, r)
		return err
	})
	for _, n := range r.Notices() {
		fmt.Fprintln(w.err, n)
	}
	if err != nil {
		return refused(err)
	}
	return done(c, w, nil, "%s: %d rows are new or changed\nthe map shows them after the next: reseal forecast", t.Name, changed)
}

func tableExport(c *cli.Context, w world) error {
	t, err := tableArg(c, 1)
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		open := func(to io.Writer) (*table.Writer, error) { return table.NewCSV(to, t.Columns) }
		path := c.String("output")
		switch filepath.Ext(path) {
		case "", ".csv":
		case ".xlsx":
			open = func(to io.Writer) (*table.Writer, error) { return table.NewXLSX(to, t.Name, t.Columns) }
		default:
			return usagef("--output %s: it is a .csv or .xlsx file", path)
		}
		return toOutput(w, cmp.Or(path, "-"), func(to io.Writer) error {
			out, err := open(to)
			if err != nil {
				return err
			}
			if err := t.Export(c.Context, s.Read(), out); err != nil {
				return err
			}
			return out.Close()
		})
	})
}

func tableArg(c *cli.Context, args int) (setting.Table, error) {
	if c.Args().Len() != args {
		return setting.Table{}, usagef("give %s, and nothing else", []string{"a table", "a table and a file"}[args-1])
	}
	return setting.FindTable(forecast.AllTables(), c.Args().First())
}
