package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/forecast/backtest"
	"reseal/forecast/panel"
	"reseal/inventory"
	"reseal/inventory/store"
)

func backtestCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "backtest", Usage: "show whether the forecast would have been right",
		Description: `Fits the inspections up to the end of a year, forecasts the later ones, and scores
the forecasts of failed or not failed: log score, Brier score, calibration and
sharpness, against the group's pace without the joint's own history, replacing
at a fixed age, and the last state staying. It says in words where the model is
better and where it is not. Nothing is stored.

With --panel it does the same for a plain file; failed is to be in the last
state, and --until is a time in the file.

example: reseal backtest --until 2020
example: reseal backtest --with seal,deicing --html backtest.html
example: reseal backtest --panel index.csv --moves 1-2,2-1,2-3,3-2 --until 2008`,
		Flags: slices.Concat([]cli.Flag{
			&cli.StringFlag{Name: "until", Usage: "fit up to the end of this `YEAR`, judge by what came later; four years before the last inspection if not given"},
			&cli.StringFlag{Name: "with", Value: "seal", Usage: "`FACTORS` that rates depend on, as in reseal fit"},
			&cli.BoolFlag{Name: "worn-failed", Usage: "as in reseal fit"},
			&cli.StringFlag{Name: "html", Usage: "write a page with a calibration plot to `FILE`"},
			&cli.StringFlag{Name: "note", Usage: "a `LINE` about the data for the page"},
			&cli.StringFlag{Name: "born", Usage: "the `COLUMN` of when a subject was new, for the fixed age"},
		}, slices.DeleteFunc(panelFlags(), func(f cli.Flag) bool {
			return slices.Contains([]string{"exact-final", "at-start"}, f.Names()[0])
		}), []cli.Flag{formatFlag}),
		Action: func(c *cli.Context) error {
			switch {
			case c.Args().Present():
				return usagef("backtest takes no argument, not %q", c.Args().First())
			case c.IsSet("panel") && c.IsSet("worn-failed"):
				return usagef("--worn-failed is for the inspections on record")
			case c.IsSet("panel") && c.IsSet("with"):
				return usagef("--with is for the inspections on record; a file has --covariates")
			case c.IsSet("panel"):
				return backtestPanel(c, w)
			}
			if err := refuseFlags(c, "goes with --panel", append(panelFlags(), &cli.StringFlag{Name: "born"}), "rating-error"); err != nil {
				return err
			}
			return backtestNetwork(c, w)
		},
	}
}

func backtestNetwork(c *cli.Context, w world) error {
	if err := fitFormat(c); err != nil {
		return err
	}
	o := forecast.FitOptions{With: list(c, "with"), RatingError: c.Bool("rating-error"), WornFailed: c.Bool("worn-failed")}
	year := 0
	if text := c.String("until"); text != "" {
		var err error
		if year, err = strconv.Atoi(text); err != nil || year < 1900 || year > 2200 {
			return usagef("--until is a year, not %q", text)
		}
	}
	var b *forecast.Backtest
	err := reading(c, w, func(s *store.Store) error {
		t, err := forecast.LoadTables(c.Context, s.Read())
		if err != nil {
			return err
		}
		if year == 0 {
			_, last, err := forecast.InspectedBetween(c.Context, s.Read())
			if err != nil {
				return err
			}
			year = last.Year - 4
		}
		o.Until = inventory.Date{Year: max(year, 1), Month: time.December, Day: 31}
		p := startProgress(w.err, "joints", 0)
		defer p.end()
		o.Counted, o.Fitting = func(n int) { p.add(int64(n)) }, p.say
		b, err = forecast.NewBacktest(c.Context, s.Read(), t, o)
		return err
	})
	if err != nil {
		return err
	}
	return tellBacktest(c, w, b, backtest.Page{
		Title: fmt.Sprintf("Backtest of the forecast of joint seals, as of %s", b.Until), Notes: b.Notes(), Result: b.Result,
	})
}

func backtestPanel(c *cli.Context, w world) error {
	if err := fitFormat(c); err != nil {
		return err
	}
	o, err := panelOptions(c)
	if err != nil {
		return err
	}
	until, err := strconv.ParseFloat(c.String("until"), 64)
	if err != nil {
		return usagef("--until is a time in the file, not %q", c.String("until"))
	}
	f, err := readPanel(c, w)
	if err != nil {
		return err
	}
	complete(c, f, &o)
	b, err := f.Backtest(panel.BacktestOptions{Options: o, Until: until})
	if err != nil {
		return hinted(err)
	}
	return tellBacktest(c, w, b, backtest.Page{
		Title: fmt.Sprintf("Backtest on %s, as of %g", filepath.Base(c.String("panel")), until), Notes: b.Notes(), Result: b.Result,
	})
}

// tellBacktest prints the scores, and writes the page where asked to.
func tellBacktest(c *cli.Context, w world, all any, p backtest.Page) error {
	if path := c.String("html"); path != "" {
		f, err := newWholeFile(path)
		if err != nil {
			return err
		}
		defer f.discard()
		if note := c.String("note"); note != "" {
			p.Notes = append([]string{note}, p.Notes...)
		}
		if err := p.WriteHTML(f); err != nil {
			return err
		}
		if err := f.keep(); err != nil {
			return err
		}
		fmt.Fprintln(w.err, "wrote", path)
	}
	if c.String("format") == "json" {
		return printJSON(w.out, all)
	}
	if c.String("format") == "table" {
		notes(c, w, append([]string{p.Title}, p.Notes...)...)
		fmt.Fprintf(w.out, "%d cases, of which %d had failed\n\n", p.Result.Cases, p.Result.Failures)
	}
	if err := tellScores(c, w, p.Result); err != nil || c.String("format") == "csv" {
		return err
	}
	fmt.Fprintln(w.out)
	if err := tellCalibration(c, w, p.Result.Calibration); err != nil {
		return err
	}
	fmt.Fprintln(w.out)
	notes(c, w, p.Result.Words...)
	return nil
}

func tellScores(c *cli.Context, w world, r backtest.Result) error {
	out, err := newRows(c, w.out, column{name: "by"}, column{name: "group", heading: "cases", shrink: true}, column{name: "forecaster", heading: "forecaster", shrink: true},
		column{name: "cases", heading: "n"}, column{name: "failures", heading: "failed"}, column{name: "mean_forecast", heading: "said"},
		column{name: "log_score", heading: "log"}, column{name: "brier_score", heading: "Brier"}, column{name: "sharpness", heading: "sharp"},
		column{name: "verdict", heading: "model is"})
	if err != nil {
		return err
	}
	for _, g := range r.Groups {
		for i, row := range g.Rows {
			name, verdict := g.Name, ""
			if i > 0 && c.String("format") == "table" {
				name = " "
			}
			if row.LogGain != nil {
				verdict = row.LogGain.Verdict
			}
			if row.Cases == 0 {
				continue
			}
			err := out.add(g.By, name, row.Forecaster, row.Cases, row.Failures, percentText(c, row.MeanForecast), scoreText(c, row.Log),
				scoreText(c, row.Brier), scoreText(c, row.Sharpness), verdict)
			if err != nil {
				return err
			}
		}
	}
	return out.close()
}

func tellCalibration(c *cli.Context, w world, deciles []backtest.Decile) error {
	untold := "" // the column is for those that have some
	if slices.ContainsFunc(deciles, func(d backtest.Decile) bool { return d.Unseen > 0 }) {
		untold = "cannot tell"
	}
	out, err := newRows(c, w.out, column{heading: "said to fail"}, column{heading: "cases"}, column{heading: "mean said"},
		column{heading: "failed"}, column{heading: untold}, column{heading: "90 % interval"}, column{heading: "as said"})
	if err != nil {
		return err
	}
	for _, d := range deciles {
		if d.Cases == 0 {
			continue
		}
		err := out.add(fmt.Sprintf("%.0f to %.0f %%", 100*d.Low, 100*d.High), d.Cases, percentText(c, d.Forecast), percentText(c, d.Observed), d.Unseen,
			fmt.Sprintf("%.0f to %.0f %%", 100*d.Lower, 100*d.Upper), d.Fits)
		if err != nil {
			return err
		}
	}
	return out.close()
}

// percentText is a probability with a tenth of a per cent in a table.
func percentText(c *cli.Context, p float64) any {
	if c.String("format") == "table" {
		return fmt.Sprintf("%.1f %%", 100*p)
	}
	return p
}

func scoreText(c *cli.Context, v float64) any {
	if c.String("format") == "table" {
		return fmt.Sprintf("%.4f", v)
	}
	return v
}
