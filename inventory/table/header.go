package table

import (
	"fmt"
	"slices"
	"strings"
)

// target is what a header name stands for: a column, and the unit that the
// file gives its values in. The unit is nil where the header names none.
type target struct {
	column int
	unit   *unit
}

// place is where a declared column stands in a file.
type place struct {
	cell     int // index of the cell in each row, or -1
	header   string
	from, to *unit // unit in the file and of the declaration; nil without unit
}

// targets returns every header that the columns answer to, as plain text.
// Two columns that answer to the same header are a programmer's mistake.
func targets(columns []Column) map[string]target {
	known := make(map[string]target)
	add := func(key string, t target) {
		if old, ok := known[key]; ok && old.column != t.column {
			panic(fmt.Sprintf("table: columns %q and %q both answer to the header %q",
				columns[old.column].Name, columns[t.column].Name, key))
		}
		known[key] = t
	}
	for i := range columns {
		c := &columns[i]
		for _, name := range append([]string{c.Name}, c.Synonyms...) {
			base, _ := splitUnit(name, c.Kind)
			base = plain(base)
			add(base, target{column: i})
			for j := range units {
				if u := &units[j]; u.kind == c.Kind {
					for _, alias := range u.aliases {
						add(base+alias, target{i, u})
						add(base+"in"+alias, target{i, u}) // "length in feet"
					}
				}
			}
		}
	}
	return known
}

// layout finds the declared columns in a header, and says what is wrong with it.
func layout(columns []Column, header []string) (places []place, faults []Fault, notices []string) {
	known := targets(columns)
	places = make([]place, len(columns))
	for i := range places {
		_, u := columns[i].base()
		places[i] = place{cell: -1, from: u, to: u}
	}
	var unknown []string
	for cell, name := range header {
		t, ok := known[plain(name)]
		switch {
		case plain(name) == "":
			if strings.TrimSpace(name) != "" || cell < lastNamed(header) {
				notices = append(notices, fmt.Sprintf("column %d has no name and is not read", cell+1))
			}
			continue
		case !ok:
			unknown = append(unknown, name)
			continue
		}
		p := &places[t.column]
		if p.cell >= 0 {
			faults = append(faults, Fault{
				Column:  name,
				Problem: fmt.Sprintf("names the same column as %s", p.header), Remedy: "keep one of them",
			})
			continue
		}
		p.cell, p.header = cell, name
		if t.unit != nil {
			p.from = t.unit
		} else if p.to != nil {
			notices = append(notices, fmt.Sprintf("column %s names no unit and is read in %s", name, p.to.symbol))
		}
	}
	missing, ignored := missingFaults(columns, places, unknown, header)
	faults = append(faults, missing...)
	if len(ignored) > 0 {
		notices = append(notices, "columns not read: "+strings.Join(ignored, ", "))
	}
	return places, faults, notices
}

// Present tells which of the columns a header has.
func Present(columns []Column, header []string) []bool {
	places, _, _ := layout(columns, header)
	has := make([]bool, len(columns))
	for i, p := range places {
		has[i] = p.cell >= 0
	}
	return has
}

func lastNamed(header []string) int {
	last := -1
	for i, name := range header {
		if plain(name) != "" {
			last = i
		}
	}
	return last
}

// missingFaults explains the columns that are not in the header: first an
// unknown name that is nearly theirs, then the required ones that are left.
// It returns the unknown names that resemble nothing.
func missingFaults(columns []Column, places []place, unknown, header []string) (faults []Fault, ignored []string) {
	explained := make(map[int]bool)
	for _, name := range unknown {
		best, column := 3, -1
		for i := range columns {
			if places[i].cell < 0 && !explained[i] && !columns[i].Named {
				if d := nearness(name, &columns[i]); d < best {
					best, column = d, i
				}
			}
		}
		if column < 0 {
			ignored = append(ignored, name)
			continue
		}
		explained[column] = true
		faults = append(faults, Fault{
			Column:  name,
			Problem: "is not a known column", Remedy: "did you mean " + columns[column].Name + "?",
		})
	}
	for i := range columns {
		if columns[i].Named && places[i].cell < 0 {
			faults = append(faults, Fault{Column: columns[i].Name, Problem: "is not in the file", Remedy: "it has: " + strings.Join(named(header), ", ")})
			continue
		}
		if columns[i].Required && places[i].cell < 0 && !explained[i] {
			faults = append(faults, Fault{
				Column:  columns[i].Name,
				Problem: "is missing from the header", Remedy: closest(&columns[i], header),
			})
		}
	}
	return faults, ignored
}

// nearness is the number of slips between a header and a column's name, or a
// large number when it is more than a slip or two.
func nearness(header string, c *Column) int {
	const far = 100
	best := far
	base, _ := c.base()
	for _, name := range append([]string{c.Name, base}, c.Synonyms...) {
		a, b := plain(header), plain(name)
		d := distance(a, b)
		if n := min(len(a), len(b)); d <= 1 && n >= 4 || d <= 2 && n >= 7 {
			best = min(best, d)
		}
	}
	return best
}

// closest names the headers most like a missing column.
func closest(c *Column, header []string) string {
	names := named(header)
	slices.SortStableFunc(names, func(a, b string) int {
		return distance(plain(a), plain(c.Name)) - distance(plain(b), plain(c.Name))
	})
	if len(names) == 0 {
		return "the first row must name the columns"
	}
	return "the closest present: " + strings.Join(names[:min(3, len(names))], ", ")
}

// named are the names in a header.
func named(header []string) (names []string) {
	for _, name := range header {
		if plain(name) != "" {
			names = append(names, strings.TrimSpace(name))
		}
	}
	return names
}

// distance counts the letters added, left out, changed or swapped with their
// neighbour between a and b: the optimal string alignment form of Damerau, "A
// technique for computer detection and correction of spelling errors",
// Communications of the ACM 7(3), 1964.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	before, row := make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(s); i++ {
		next := make([]int, len(t)+1)
		next[0] = i
		for j := 1; j <= len(t); j++ {
			cost := 1
			if s[i-1] == t[j-1] {
				cost = 0
			}
			next[j] = min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == t[j-2] && s[i-2] == t[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row = row, next
	}
	return row[len(t)]
}
