package main

import (
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// tableWidth is the width that a table and the text under it keep to where the
// answer does not go to a terminal.
const tableWidth = 100

// longestWord is the widest that a column is kept for the sake of one word: a longer
// one goes on in the next line too.
const longestWord = 40

// Widths of text, and of a heading, that are not worth breaking.
const (
	shortText    = 12
	shortHeading = 9
)

// widthOf is the terminal's, where the answer goes to one.
func widthOf(w io.Writer) int {
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			return width
		}
	}
	return tableWidth
}

// table lays out the heading and the rows, each as its lines. Where a table is too
// wide, a column of text that says nothing goes first, then headings go on in the next
// line, then text does. Nothing is cut: a table that is still too wide stays so.
func (r *rows) table() (blocks [][]string) {
	headings := make([]string, len(r.columns))
	for i, c := range r.columns {
		headings[i] = c.heading
	}
	widths := r.widths(headings)
	blocks = append(blocks, r.lines(headings, widths))
	for _, cells := range r.cells {
		blocks = append(blocks, r.lines(cells, widths))
	}
	return blocks
}

// widths are those of the columns; 0 for one that is left out. A column of text that
// says nothing loses its heading where the table is too wide.
func (r *rows) widths(headings []string) []int {
	widths, cells := make([]int, len(headings)), make([]int, len(headings))
	for i, heading := range headings {
		if heading == "" {
			continue
		}
		for _, row := range r.cells {
			cells[i] = max(cells[i], utf8.RuneCountInString(row[i]))
		}
		widths[i] = max(cells[i], utf8.RuneCountInString(heading))
	}
	for i := range headings {
		if r.columns[i].shrink && tooWide(widths, r.width) && r.blank(i) {
			headings[i], widths[i] = "", 0
		}
	}
	heading := func(i int) int {
		if n := utf8.RuneCountInString(headings[i]); n <= shortHeading {
			return n
		}
		return longest(headings[i])
	}
	narrow(widths, r.width, func(i int) int { return max(cells[i], heading(i)) })
	narrow(widths, r.width, func(i int) int {
		if !r.columns[i].shrink {
			return widths[i]
		}
		least := heading(i)
		for _, row := range r.cells {
			least = max(least, longest(row[i]))
		}
		return min(max(least, min(cells[i], shortText)), longestWord)
	})
	return widths
}

// narrow takes from the widest columns first until the table fits or each is at its
// least.
func narrow(widths []int, width int, least func(column int) int) {
	leasts := make([]int, len(widths))
	for i := range leasts {
		leasts[i] = least(i)
	}
	for tooWide(widths, width) {
		widest := -1
		for i := range widths {
			if widths[i] > leasts[i] && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return
		}
		widths[widest]--
	}
}

func tooWide(widths []int, width int) bool {
	total := -2
	for _, w := range widths {
		if w > 0 {
			total += w + 2
		}
	}
	return total > width
}

// longest is the width of the longest word.
func longest(text string) (width int) {
	for word := range strings.FieldsSeq(text) {
		width = max(width, utf8.RuneCountInString(word))
	}
	return width
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

// lines are a row's: cells wider than their column go on in the next.
func (r *rows) lines(cells []string, widths []int) (lines []string) {
	parts, most := make([][]string, len(cells)), 1
	for i, cell := range cells {
		if widths[i] == 0 {
			continue
		}
		parts[i] = []string{cell}
		if utf8.RuneCountInString(cell) > widths[i] {
			parts[i] = broken(wrap(cell, widths[i]), widths[i])
		}
		most = max(most, len(parts[i]))
	}
	for k := range most {
		var b strings.Builder
		for i, width := range widths {
			if width == 0 {
				continue
			}
			cell := ""
			if k < len(parts[i]) {
				cell = parts[i][k]
			}
			pad := strings.Repeat(" ", max(0, width-utf8.RuneCountInString(cell)))
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
		lines = append(lines, strings.TrimRight(b.String(), " "))
	}
	return lines
}

// broken breaks the words that are longer than a line.
func broken(lines []string, width int) (out []string) {
	for _, line := range lines {
		text := []rune(line)
		for ; len(text) > width; text = text[width:] {
			out = append(out, string(text[:width]))
		}
		out = append(out, string(text))
	}
	return out
}

// wrap breaks text between words into lines of at most width.
func wrap(text string, width int) (lines []string) {
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
