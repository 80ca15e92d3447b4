package main

import (
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"
	"github.com/xuri/excelize/v2"

	"reseal/forecast"
	"reseal/inventory/store"
)

// book is a workbook whose cells are numbers with a format, not text.
type book struct {
	*excelize.File
	styles map[string]int
	err    error
}

// Number formats of a workbook.
const (
	asText    = "@"
	asDollars = `"$"#,##0;[Red]-"$"#,##0`
	asCount   = "#,##0"
	asTenth   = "#,##0.0"
	asShare   = "0.0%"
	asYear    = "0"
)

func newBook() *book { return &book{File: excelize.NewFile(), styles: map[string]int{}} }

func (b *book) try(err error) {
	if b.err == nil {
		b.err = err
	}
}

// style is that of a number format, in bold or not.
func (b *book) style(format string, bold bool) int {
	key := fmt.Sprint(format, bold)
	if id, ok := b.styles[key]; ok {
		return id
	}
	s := &excelize.Style{Font: &excelize.Font{Bold: bold}, CustomNumFmt: &format}
	if format == asText {
		s.Alignment = &excelize.Alignment{WrapText: true, Vertical: "top"}
	}
	id, err := b.NewStyle(s)
	b.try(err)
	b.styles[key] = id
	return id
}

// put writes a value with its format.
func (b *book) put(sheet string, column, row int, value any, format string, bold bool) {
	cell, err := excelize.CoordinatesToCellName(column, row)
	b.try(err)
	switch v := value.(type) {
	case nil:
		return
	case cents:
		b.try(b.SetCellValue(sheet, cell, float64(v)/100))
	case string:
		b.try(b.SetCellStr(sheet, cell, v)) // never a formula
	default:
		b.try(b.SetCellValue(sheet, cell, v))
	}
	b.try(b.SetCellStyle(sheet, cell, cell, b.style(format, bold)))
}

// sheetColumn is one column of a sheet.
type sheetColumn struct {
	heading, format string
}

// sheet writes a table with a frozen heading and a filter.
func (b *book) sheet(name string, columns []sheetColumn, rows [][]any) {
	_, err := b.NewSheet(name)
	b.try(err)
	for i, c := range columns {
		b.put(name, i+1, 1, c.heading, asText, true)
	}
	for r, cells := range rows {
		for i, v := range cells {
			format := columns[i].format
			if _, text := v.(string); text {
				format = asText
			}
			b.put(name, i+1, r+2, v, format, false)
		}
	}
	last, err := excelize.ColumnNumberToName(len(columns))
	b.try(err)
	b.try(b.SetColWidth(name, "A", last, 16))
	b.try(b.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	b.try(b.AutoFilter(name, fmt.Sprintf("A1:%s%d", last, len(rows)+1), nil))
}

// budgetWorkbook writes a projection or levels as a workbook: a summary that says
// what the figures are and rest on, and a sheet for each table.
func budgetWorkbook(c *cli.Context, w world, s *store.Store, file string, p *projection, l *levelling, said ...string) error {
	if !strings.HasSuffix(strings.ToLower(file), ".xlsx") {
		return usagef("--output is a workbook, FILE.xlsx, not %q", file)
	}
	notice, err := store.Notice(c.Context, s.Read())
	if err != nil {
		return err
	}
	b := newBook()
	defer b.Close()
	b.try(b.SetSheetName("Sheet1", "Summary"))
	b.try(b.SetColWidth("Summary", "A", "A", 58))
	b.try(b.SetColWidth("Summary", "B", "D", 18))
	row := 0
	line := func(bold bool, format string, cells ...any) {
		row++
		for i, v := range cells {
			if _, text := v.(string); text {
				b.put("Summary", i+1, row, v, asText, bold)
			} else {
				b.put("Summary", i+1, row, v, format, bold)
			}
		}
	}
	line(true, asText, "Deck joints: budget")
	if notice != "" {
		line(true, asText, notice)
	}
	row++
	if p != nil {
		said = p.notes(c)
		p.summary(c, line)
		b.sheet("Need", needColumns(c, p.FirstYear), needCells(p.needRows(c), p))
		if wholes := p.wholeRows(c); wholes != nil {
			said = append(said, "Whole bridges: "+forecast.WholeWords+".")
			b.sheet("Whole bridges", p.wholeHeadings(c), p.wholeSheet(wholes))
		}
		b.sheet("Nothing done", standingHeadings(c), standingTableCells("", asked(c, p.standings.Idle)))
		if p.plan != nil {
			b.sheet("With the plan", standingHeadings(c), standingTableCells("", asked(c, p.standings.Plans[0])))
		}
	}
	if l != nil {
		l.summary(line)
		var rows [][]any
		for i := range l.levels {
			rows = append(rows, standingTableCells(l.levels[i].name, asked(c, l.levels[i].all))...)
		}
		b.sheet("Levels by year", append([]sheetColumn{{"level", asText}}, standingHeadings(c)...), rows)
		if wholes := l.wholeSheet(c); wholes != nil {
			said = append(said, "Whole bridges: "+forecast.WholeWords+".")
			b.sheet("Whole bridges", []sheetColumn{{"level", asText}, {groupHeading(c), asText}, {"year", asYear}, {"planned, feet", asCount}, {"planned, nominal, visits aside", asDollars}}, wholes)
		}
	}
	row++
	line(true, asText, "What the figures are")
	for _, text := range said {
		if text != "" {
			line(false, asText, text)
		}
	}
	f, err := newWholeFile(file)
	if err != nil {
		return err
	}
	defer f.discard()
	if b.err != nil {
		return fmt.Errorf("%s: %w", file, b.err)
	}
	if err := b.Write(f); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	fmt.Fprintf(w.err, "written to %s\n", file)
	return f.keep()
}

// summary writes the key figures.
func (p *projection) summary(c *cli.Context, line func(bool, string, ...any)) {
	first, last := p.FirstYear, p.FirstYear+p.Years-1
	all := p.Network[len(p.Network)-1]
	idle := forecast.NetworkYears(p.standings.Idle)
	line(true, asText, "Figure", "Mean", "10 %", "90 %")
	line(false, asDollars, fmt.Sprintf("Need %d-%d, nominal dollars", first, last), cents(all.Nominal))
	line(false, asDollars, fmt.Sprintf("Need of %d, what has failed already included", first), cents(p.Network[0].Nominal), cents(p.Network[0].Low), cents(p.Network[0].High))
	band := func(words, format string, v forecast.Band, scale float64) {
		line(false, format, words, v.Mean*scale, v.Low*scale, v.High*scale)
	}
	band(fmt.Sprintf("Backlog at the end of %d, nothing done, nominal dollars", first), asDollars, idle[0].Backlog, 0.01)
	band(fmt.Sprintf("Backlog at the end of %d, nothing done, feet", first), asCount, idle[0].BacklogFeet, 1)
	end := &idle[len(idle)-1]
	band(fmt.Sprintf("Backlog at the end of %d, nothing done, nominal dollars", last), asDollars, end.Backlog, 0.01)
	band(fmt.Sprintf("Length in CS4 at the end of %d, nothing done", last), asShare, end.Severe(), 1)
	if p.plan != nil {
		with := forecast.NetworkYears(p.standings.Plans[0])
		end := &with[len(with)-1]
		line(false, asDollars, fmt.Sprintf("Planned %d-%d, nominal dollars", first+1, last), cents(p.plan.SpentCents()))
		band(fmt.Sprintf("Backlog at the end of %d, with the plan, nominal dollars", last), asDollars, end.Backlog, 0.01)
		band(fmt.Sprintf("Backlog at the end of %d, with the plan, feet", last), asCount, end.BacklogFeet, 1)
		band(fmt.Sprintf("Length in CS4 at the end of %d, with the plan", last), asShare, end.Severe(), 1)
	}
	p.wholeSummary(line)
	line(false, asShare, "Failed now, share by the cost of renewal", p.Steady.FailedShare)
	line(false, asDollars, fmt.Sprintf("Steady: yearly money that holds it, constant dollars of %d", first), cents(p.Steady.Hold()))
	if t := c.Float64("target"); t >= 0 {
		line(false, asDollars, fmt.Sprintf("Yearly money that brings it to %.3g %% by the end of %d", t, last), cents(p.Steady.Reach(t/100)))
	}
}

// summary writes the levels side by side.
func (l *levelling) summary(line func(bool, string, ...any)) {
	p := l.problem
	last := p.FirstYear + p.Instance.Years - 1
	head := []any{"Figure"}
	for i := range l.levels {
		head = append(head, l.levels[i].name)
	}
	line(true, asText, head...)
	each := func(words, format string, of func(*level) any) {
		cells := []any{words}
		for i := range l.levels {
			cells = append(cells, of(&l.levels[i]))
		}
		line(false, format, cells...)
	}
	each(fmt.Sprintf("Planned %d-%d, nominal dollars", p.FirstYear, last), asDollars, func(v *level) any { return cents(v.plan.SpentCents()) })
	each("Jobs", asCount, func(v *level) any { return len(v.plan.Items) })
	each(fmt.Sprintf("Backlog at the end of %d, nominal dollars", last), asDollars, func(v *level) any { return v.end().Backlog.Mean / 100 })
	each("  10 %", asDollars, func(v *level) any { return v.end().Backlog.Low / 100 })
	each("  90 %", asDollars, func(v *level) any { return v.end().Backlog.High / 100 })
	each("Backlog, feet", asCount, func(v *level) any { return v.end().BacklogFeet.Mean })
	each("Joints failed", asTenth, func(v *level) any { return v.end().Failed.Mean })
	each("Length in CS4", asShare, func(v *level) any { return v.end().Severe().Mean })
	each("  10 %", asShare, func(v *level) any { return v.end().Severe().Low })
	each("  90 %", asShare, func(v *level) any { return v.end().Severe().High })
	each(fmt.Sprintf("Expected cost for ever, present value, constant dollars of %d", p.PriceYear), asDollars, func(v *level) any { return v.plan.CostDollars })
	if l.wholes() {
		each("Of the planned, quantities for a whole bridge, nominal dollars without visits", asDollars, func(v *level) any { _, cost := v.plan.WholeBridges(); return cents(cost) })
		each("  jobs", asCount, func(v *level) any { jobs, _ := v.plan.WholeBridges(); return jobs })
	}
}

func needColumns(c *cli.Context, year int) []sheetColumn {
	return []sheetColumn{
		{groupHeading(c), asText},
		{"year", asYear},
		{"joints renewed", asTenth},
		{"feet renewed", asCount},
		{"nominal dollars", asDollars},
		{"10 %", asDollars},
		{"90 %", asDollars},
		{fmt.Sprintf("present value, %d", year), asDollars},
	}
}

func groupHeading(c *cli.Context) string {
	if per := c.String("per"); per != "" {
		return per
	}
	return "network"
}

func needCells(rows []forecast.BudgetRow, p *projection) (out [][]any) {
	for _, r := range rows {
		cells := []any{groupName(r.Group, r.Network), r.Year, r.Renewals, r.Feet, cents(r.Nominal), cents(r.Low), cents(r.High), cents(r.Present)}
		if r.Year == 0 {
			cells[1], cells[5], cells[6] = p.allYears(), nil, nil
		}
		out = append(out, cells)
	}
	return out
}

func standingHeadings(c *cli.Context) []sheetColumn {
	return []sheetColumn{
		{groupHeading(c), asText},
		{"year", asYear},
		{"jobs", asCount},
		{"planned, nominal", asDollars},
		{"joints failed", asTenth},
		{"10 %", asTenth},
		{"90 %", asTenth},
		{"CS1", asShare},
		{"CS2", asShare},
		{"CS3", asShare},
		{"CS4", asShare},
		{"10 %", asShare},
		{"90 %", asShare},
		{"backlog, feet", asCount},
		{"10 %", asCount},
		{"90 %", asCount},
		{"backlog, nominal", asDollars},
		{"10 %", asDollars},
		{"90 %", asDollars},
	}
}

func standingTableCells(level string, all []forecast.Standing) (out [][]any) {
	for i := range all {
		s := &all[i]
		var cells []any
		if level != "" {
			cells = append(cells, level)
		}
		out = append(out, append(cells, groupName(s.Group, s.Network), s.Year, s.Jobs, cents(s.Spent.Mean), s.Failed.Mean, s.Failed.Low, s.Failed.High,
			s.States[0].Mean, s.States[1].Mean, s.States[2].Mean, s.Severe().Mean, s.Severe().Low, s.Severe().High, s.BacklogFeet.Mean, s.BacklogFeet.Low, s.BacklogFeet.High,
			s.Backlog.Mean/100, s.Backlog.Low/100, s.Backlog.High/100))
	}
	return out
}
