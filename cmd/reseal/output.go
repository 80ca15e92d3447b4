package main

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	"reseal/forecast/money"
	"reseal/inventory"
)

// tableWidth is the most columns of text that a table takes.
const tableWidth = 100

// column is one column of a command's answer: its name in CSV and JSON, and
// its heading in a table. A column without a heading is left out of tables.
type column struct {
	name    string
	heading string
	shrink  bool // the first to be cut when a table is too wide
	wrap    bool // goes on in the next line where it would be cut
}

// rows writes a command's answer as table, CSV or JSON. CSV and JSON go out
// row by row; a table waits for its widths.
type rows struct {
	columns []column
	format  string
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
	r := &rows{columns: columns, format: c.String("format"), out: bufio.NewWriterSize(w, 1<<16), right: make([]bool, len(columns))}
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
		r.table()
	}
	return r.out.Flush()
}

func (r *rows) table() {
	widths := make([]int, len(r.columns))
	total := 0
	for i, c := range r.columns {
		if c.heading == "" {
			continue
		}
		widths[i] = utf8.RuneCountInString(c.heading)
		for _, cells := range r.cells {
			widths[i] = max(widths[i], utf8.RuneCountInString(cells[i]))
		}
		total += widths[i] + 2
	}
	for i := range r.columns { // one that says nothing goes first
		c := &r.columns[i]
		if total-2 > tableWidth && c.shrink && c.heading != "" && r.blank(i) {
			total -= widths[i] + 2
			c.heading, c.shrink, widths[i] = "", false, 0
		}
	}
	for total-2 > tableWidth {
		widest := -1
		for i, c := range r.columns {
			least := 8
			if c.wrap {
				least = 20
			}
			if (c.shrink || c.wrap) && widths[i] > least && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			break
		}
		widths[widest]--
		total--
	}
	headings := make([]string, len(r.columns))
	for i, c := range r.columns {
		headings[i] = c.heading
	}
	r.line(headings, widths)
	for _, cells := range r.cells {
		r.line(cells, widths)
	}
}

// blank tells whether nothing is known in a whole column.
func (r *rows) blank(column int) bool {
	for _, cells := range r.cells {
		if cells[column] != pretty(nil) {
			return false
		}
	}
	return true
}

func (r *rows) line(cells []string, widths []int) {
	rest := make([]string, len(cells))
	more := false
	for i, c := range r.columns {
		if c.heading != "" && c.wrap && utf8.RuneCountInString(cells[i]) > widths[i] {
			lines := wrap(cells[i], widths[i])
			cells[i], rest[i] = lines[0], strings.Join(lines[1:], " ")
			more = more || rest[i] != ""
		}
	}
	r.oneLine(cells, widths)
	if more {
		r.line(rest, widths)
	}
}

func (r *rows) oneLine(cells []string, widths []int) {
	var b strings.Builder
	for i, cell := range cells {
		if r.columns[i].heading == "" {
			continue
		}
		n := utf8.RuneCountInString(cell)
		if n > widths[i] {
			cell = string([]rune(cell)[:widths[i]-1]) + "…"
			n = widths[i]
		}
		pad := strings.Repeat(" ", widths[i]-n)
		if r.right[i] {
			cell = pad + cell
		} else {
			cell += pad
		}
		if b.Len() > 0 {
			b.WriteString("  ")
		}
		b.WriteString(cell)
	}
	r.out.WriteString(strings.TrimRight(b.String(), " ") + "\n")
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
