package web

import (
	"bytes"
	"cmp"
	"io"
	"math"
	"net/http"
	"strings"

	"reseal/forecast"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// exportBudget writes the need by district and year, or the levels side by
// side: years.csv, levels.xlsx and so on; years and levels alone are JSON.
func (s *Server) exportBudget(w http.ResponseWriter, r *http.Request) error {
	q, err := budgetAsked(r.URL.Query())
	if err != nil {
		return err
	}
	name, format, _ := strings.Cut(r.PathValue("file"), ".")
	format = cmp.Or(format, "json")
	write := map[string]func(*table.Writer, *projection) error{"years": writeYears, "levels": writeLevels}[name]
	columns := map[string][]table.Column{"years": yearColumns(), "levels": levelColumns()}[name]
	var out bytes.Buffer
	open, kind := map[string]func(io.Writer) (*table.Writer, error){
		"csv":  func(to io.Writer) (*table.Writer, error) { return table.NewCSV(to, columns) },
		"json": func(to io.Writer) (*table.Writer, error) { return table.NewJSON(to, columns), nil },
		"xlsx": func(to io.Writer) (*table.Writer, error) { return table.NewXLSX(to, name, columns) },
	}[format], map[string]string{"csv": "text/csv; charset=utf-8", "json": jsonType, "xlsx": xlsxType}[format]
	if write == nil || open == nil {
		return store.NotFound("there are years and levels, each as .csv, .json and .xlsx", "there is no file %s", r.PathValue("file"))
	}
	p, err := s.projections.current(r.Context(), s, q)
	if err != nil {
		return err
	}
	to, err := open(&out)
	if err == nil {
		err = write(to, p)
	}
	if err == nil {
		err = to.Close()
	}
	if err != nil {
		return err
	}
	return download(w, &out, kind, "budget-"+r.PathValue("file"))
}

func yearColumns() []table.Column {
	return []table.Column{
		{Name: "district"},
		{Name: "year", Kind: table.Int},
		{Name: "renewals", Kind: table.Float},
		{Name: "feet", Kind: table.Float},
		{Name: "nominal_mean_usd", Kind: table.Money},
		{Name: "nominal_p10_usd", Kind: table.Money},
		{Name: "nominal_p90_usd", Kind: table.Money},
		{Name: "present_value_usd", Kind: table.Money},
		{Name: "present_value_year", Kind: table.Int},
		{Name: "whole_bridge_feet", Kind: table.Float},
		{Name: "whole_bridge_nominal_usd", Kind: table.Money},
		{Name: "planned_whole_bridge_feet", Kind: table.Float},
		{Name: "planned_whole_bridge_nominal_usd", Kind: table.Money},
	}
}

// writeYears writes the need by district and year; what is quantities for a whole
// bridge stands beside that of the plan of 100 %.
func writeYears(to *table.Writer, p *projection) error {
	type wholeOf struct {
		group   string
		network bool
		year    int
	}
	whole := map[wholeOf]forecast.WholeBridges{}
	for _, s := range p.Standings.Plans[p.baseAt()] {
		whole[wholeOf{s.Group, s.Network, s.Year}] = s.Whole
	}
	for _, rows := range [][]forecast.BudgetRow{p.Budget.Groups, p.Budget.Network} {
		for _, r := range rows {
			if r.Year == 0 { // a sum that a spreadsheet makes itself
				continue
			}
			if to.Text(0, r.Group); r.Network {
				to.Text(0, "all districts")
			}
			to.Int(1, r.Year)
			to.Float(2, r.Renewals)
			to.Float(3, r.Feet)
			to.Cents(4, int64(r.Nominal))
			to.Cents(5, int64(r.Low))
			to.Cents(6, int64(r.High))
			to.Cents(7, int64(r.Present))
			to.Int(8, p.Budget.FirstYear)
			planned := whole[wholeOf{r.Group, r.Network, r.Year}]
			to.Float(9, r.Whole.Feet)
			to.Cents(10, int64(r.Whole.Cost))
			to.Float(11, planned.Feet)
			to.Cents(12, int64(planned.Cost))
			if err := to.EndRow(); err != nil {
				return err
			}
		}
	}
	return nil
}

func levelColumns() []table.Column {
	return []table.Column{
		{Name: "level"},
		{Name: "planned_nominal_usd", Kind: table.Money},
		{Name: "jobs", Kind: table.Int},
		{Name: "failed_at_end", Kind: table.Float},
		{Name: "cost_present_usd", Kind: table.Float},
		{Name: "over_need_present_usd", Kind: table.Float},
		{Name: "gap_pct", Kind: table.Float},
		{Name: "feasible", Kind: table.Bool},
		{Name: "cs4_at_end", Kind: table.Float},
		{Name: "cs4_at_end_p10", Kind: table.Float},
		{Name: "cs4_at_end_p90", Kind: table.Float},
		{Name: "backlog_nominal_usd", Kind: table.Money},
		{Name: "whole_bridge_jobs", Kind: table.Int},
		{Name: "whole_bridge_nominal_usd", Kind: table.Money},
	}
}

func writeLevels(to *table.Writer, p *projection) error {
	for i := range p.Levels {
		l := &p.Levels[i]
		to.Text(0, l.Name())
		to.Cents(1, int64(l.SpentCents()))
		to.Int(2, len(l.Items))
		to.Float(3, l.FailedEnd)
		to.Float(4, l.CostDollars)
		to.Float(5, l.OverNeed)
		to.Float(6, l.GapPct)
		to.Bool(7, l.Shortfall == nil)
		severe := p.End(i).Severe()
		to.Float(8, severe.Mean)
		to.Float(9, severe.Low)
		to.Float(10, severe.High)
		to.Cents(11, int64(math.Round(p.End(i).Backlog.Mean)))
		jobs, cost := l.WholeBridges()
		to.Int(12, jobs)
		to.Cents(13, int64(cost))
		if err := to.EndRow(); err != nil {
			return err
		}
	}
	return nil
}
