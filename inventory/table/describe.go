package table

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// amount writes a bound of the column with its unit: 40 in.
func (c *Column) amount(v float64) string {
	s := strconv.FormatFloat(v, 'f', -1, 64)
	switch _, u := c.base(); {
	case u == nil:
		return s
	case c.Kind == Money:
		return "$" + s
	default:
		return s + " " + u.symbol
	}
}

// bounds writes what the column allows: 0 in to 40 in.
func (c *Column) bounds() string {
	switch {
	case math.IsInf(c.Max, 1):
		return c.amount(c.Min) + " or more"
	case math.IsInf(c.Min, -1):
		return c.amount(c.Max) + " or less"
	}
	return c.amount(c.Min) + " to " + c.amount(c.Max)
}

// Facts says in a phrase what a cell holds: length in ft, required, 0 ft to 40 ft.
func (c Column) Facts() string {
	facts := c.Kind.String()
	if _, u := c.base(); u != nil && c.Kind != Money && c.Kind != Percent {
		facts += " in " + u.symbol
	}
	if c.Required {
		facts += ", required"
	}
	if c.bounded() {
		facts += ", " + c.bounds()
	}
	return facts
}

// Template writes an empty CSV table: the header and nothing else, so that no
// example is ever imported as data.
func Template(w io.Writer, columns []Column) error {
	header := make([]string, len(columns))
	for i := range columns {
		header[i] = columns[i].Name
	}
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	out.Flush()
	return out.Error()
}

// Describe writes what each column holds, for people who fill in the table, in
// lines of at most 100 characters.
func Describe(w io.Writer, columns []Column) error {
	width := 0
	for i := range columns {
		width = max(width, len(columns[i].Name))
	}
	var b strings.Builder
	for i := range columns {
		c := &columns[i]
		lines := []string{c.Facts()}
		if c.Help != "" {
			lines = append(lines, c.Help)
		}
		if len(c.Enum) > 0 {
			lines = append(lines, "one of: "+strings.Join(c.Enum, ", "))
		}
		if c.Example != "" {
			lines = append(lines, "example: "+c.Example)
		}
		name := c.Name
		for _, line := range lines {
			for _, part := range wrap(line, max(100-width-2, 30)) {
				fmt.Fprintf(&b, "%-*s  %s\n", width, name, part)
				name = ""
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// wrap breaks a line between words.
func wrap(s string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && len(line)+1+len(word) > width {
			lines = append(lines, line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
