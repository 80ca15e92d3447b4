package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast/money"
	"reseal/inventory"
)

// column is one column of a command's answer: its name in CSV and JSON, and
// its heading in a table. A column without a heading is left out of tables.
type column struct {
	name    string
	heading string
	shrink  bool // text that goes on in the next line where a table is too wide
}

// rows writes a command's answer as table, CSV or JSON. CSV and JSON go out
// row by row; a table waits for its widths.
type rows struct {
	columns []column
	format  string
	width   int // that a table should keep to
	out     *bufio.Writer
	csv     *csv.Writer
	cells   [][]string
	right   []bool
	count   int
}

// cents is money in a row: whole dollars with separators in a table, plain
// dollars and cents elsewhere.
type cents int64

var formatFlag = &cli.StringFlag{Name: "format", Value: "table", Usage: "`HOW` to print: table, csv or json"}

func newRows(c *cli.Context, w io.Writer, columns ...column) (*rows, error) {
	r := &rows{columns: columns, format: c.String("format"), width: widthOf(w), out: bufio.NewWriterSize(w, 1<<16), right: make([]bool, len(columns))}
	switch r.format {
	case "table", "json":
	case "csv":
		r.csv = csv.NewWriter(r.out)
		names := make([]string, len(columns))
		for i, c := range columns {
			names[i] = c.name
		}
		return r, r.csv.Write(names)
	default:
		return nil, usagef("--format is table, csv or json, not %q", r.format)
	}
	return r, nil
}

// add adds a row with one value a column: string, bool, int, int64, float64,
// cents, inventory.Date, pointers to these, or nil.
func (r *rows) add(values ...any) error {
	r.count++
	switch r.format {
	case "csv":
		cells := make([]string, len(values))
		for i, v := range values {
			cells[i] = plain(v)
		}
		return r.csv.Write(cells)
	case "json":
		return r.addJSON(values)
	}
	cells := make([]string, len(values))
	for i, v := range values {
		cells[i] = pretty(v)
		if v := deref(v); v != nil {
			switch v.(type) {
			case int, int64, float64, cents:
				r.right[i] = true
			}
		}
	}
	r.cells = append(r.cells, cells)
	return nil
}

func (r *rows) addJSON(values []any) error {
	r.out.WriteString(map[bool]string{true: "[\n{", false: ",\n{"}[r.count == 1])
	for i, v := range values {
		if c, ok := deref(v).(cents); ok {
			v = json.Number(plain(c))
		}
		b, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if i > 0 {
			r.out.WriteByte(',')
		}
		fmt.Fprintf(r.out, "%q:%s", r.columns[i].name, b)
	}
	return r.out.WriteByte('}')
}

// close writes what is left.
func (r *rows) close() error {
	switch r.format {
	case "csv":
		r.csv.Flush()
		if err := r.csv.Error(); err != nil {
			return err
		}
	case "json":
		if r.count == 0 {
			r.out.WriteString("[")
		}
		r.out.WriteString("\n]\n")
	default:
		for _, lines := range r.table() {
			for _, line := range lines {
				r.out.WriteString(line + "\n")
			}
		}
	}
	return r.out.Flush()
}

// deref follows a pointer; a nil one is nil.
func deref(v any) any {
	switch p := v.(type) {
	case *float64:
		if p != nil {
			return *p
		}
		return nil
	case *int:
		if p != nil {
			return *p
		}
		return nil
	case *int64:
		if p != nil {
			return *p
		}
		return nil
	case *bool:
		if p != nil {
			return *p
		}
		return nil
	}
	return v
}

// plain is a value for CSV: full, without thousands separators.
func plain(v any) string {
	switch v := deref(v).(type) {
	case nil:
		return ""
	case string:
		return guardFormula(v)
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case cents:
		return fmt.Sprintf("%.2f", float64(v)/100)
	case inventory.Date:
		return v.String()
	default:
		return fmt.Sprint(v)
	}
}

// guardFormula keeps a spreadsheet from running text that looks like a formula.
func guardFormula(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// pretty is a value for people.
func pretty(v any) string {
	switch v := deref(v).(type) {
	case nil:
		return "-"
	case string:
		if v == "" {
			return "-"
		}
		return v
	case bool:
		if v {
			return "yes"
		}
		return "no"
	case float64:
		return trimZeros(strconv.FormatFloat(v, 'f', 2, 64))
	case cents:
		return money.FormatDollars(int64(v))
	case inventory.Date:
		if v.IsZero() {
			return "-"
		}
		return v.String()
	default:
		return fmt.Sprint(v)
	}
}

func trimZeros(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}
