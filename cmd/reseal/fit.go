package main

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"

	"github.com/urfave/cli/v2"

	"reseal/forecast/panel"
	"reseal/inventory/store"
)

func fitCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "fit", Usage: "estimate how seals wear from inspections",
		Description: `Fits the rates at which feet of seal pass from state to state to the inspections
on record, by the factors that --with names, and keeps the fit. Only inspections
with a date of their own count, and only between works. Priors come from the
life table, so that few inspections move it a little and many override it;
with too few it says so and keeps nothing. A fit is used by forecasts after
--use; --use prior goes back to the life table.

Feet that got better between inspections with no work on record are left out and
counted. With --rating-error they count as what most of them are: an inspection
that called some feet one state better or worse than they were. The probability
of that is estimated along with the rates (a hidden Markov model); feet better by
more than one state are still left out, as work that nobody put on record. Forecasts
by such a fit weigh the last inspection against those before it.

A seal removed for wear before anybody found it failed is counted and its end left
out. With --worn-failed it had failed by then: right for an agency that renews what
has failed, and too fast for one that renews before.

With --panel, fits a plain file of subject, time and state, so that the estimator
can be checked against any other: no priors, one piece, no differences between
subjects unless asked for. States are numbered from 1, times are years. Rates
are a year, with every covariate at 0.

With --life, fits a Weibull life to a file with the columns left and right: a
blank left is a seal found failed when first looked at, a blank right one in
service when last seen, equal ages are a known life. Columns entry and weight
may stand beside them.

example: reseal fit --with seal,deicing,traffic
example: reseal fit --with seal --rating-error
example: reseal fit --list
example: reseal fit --compare 2 3
example: reseal fit --use 3
example: reseal fit --panel transplants.csv --moves 1-2,2-1,2-3,1-3 --exact-final
example: reseal fit --panel index.csv --moves 1-2,2-3 --rating-error --first-true
example: reseal fit --life lives.csv --format json`,
		Flags: slices.Concat(networkFlags(), panelFlags(), []cli.Flag{
			&cli.BoolFlag{Name: "list", Usage: "list the fits on record"},
			&cli.StringFlag{Name: "use", Usage: "let forecasts rest on fit `N`, or on the life table: prior"},
			&cli.StringFlag{Name: "compare", Usage: "set fit `A` beside another: --compare A B"},
			&cli.StringFlag{Name: "life", Usage: "fit seal lives: a `FILE` with the columns left and right"},
			formatFlag,
		}),
		Action: func(c *cli.Context) error {
			asked := 0
			do := fitNetwork
			for _, way := range []struct {
				name string
				do   func(*cli.Context, world) error
			}{{"panel", fitPanel}, {"life", fitLife}, {"list", fitList}, {"use", fitUse}, {"compare", fitCompare}} {
				if c.IsSet(way.name) {
					asked++
					do = way.do
				}
			}
			if !c.IsSet("panel") {
				if err := refuseFlags(c, "goes with --panel", panelFlags(), "rating-error"); err != nil {
					return err
				}
				if asked > 0 && c.Bool("rating-error") {
					return usagef("--rating-error is for a fit to the inspections on record or to a --panel")
				}
			}
			if asked > 0 {
				if err := refuseFlags(c, "is for a fit to the inspections on record", networkFlags(), "dry-run"); err != nil {
					return err
				}
			}
			switch {
			case asked > 1:
				return usagef("give one of --panel, --life, --list, --use and --compare")
			case c.Args().Present() && !c.IsSet("compare"):
				return usagef("fit takes no argument, not %q", c.Args().First())
			}
			return do(c, w)
		},
	}
}

// refuseFlags refuses flags that would be passed over without a word.
func refuseFlags(c *cli.Context, why string, flags []cli.Flag, but ...string) error {
	for _, f := range flags {
		if name := f.Names()[0]; c.IsSet(name) && !slices.Contains(but, name) {
			return usagef("--%s %s", name, why)
		}
	}
	return nil
}

// panelFlags say which panel to read and what to fit to it.
func panelFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "panel", Usage: "fit a plain panel: a `FILE` with the columns subject, time and state"},
		&cli.StringFlag{Name: "moves", Usage: "the allowed `MOVES`, as 1-2,2-3,3-4"},
		&cli.BoolFlag{Name: "exact-final", Usage: "the time of the last state is when it was reached, not when it was seen"},
		&cli.StringFlag{Name: "covariates", Usage: "`COLUMNS` of numbers that rates depend on, as age,salted"},
		&cli.StringFlag{Name: "constrain", Usage: "what shares a parameter: `LIST` of moves (1-2=2-3) and covariates (salted, salted:1-2=2-3)"},
		&cli.BoolFlag{Name: "rating-error", Usage: "a rating may be wrong by one state"},
		&cli.StringFlag{Name: "rating-errors", Usage: "the `ERRORS` a rating may have, from the true state to the one seen, as 1-2,2-1"},
		&cli.BoolFlag{Name: "first-true", Usage: "the first rating of a subject is true; else all subjects are truly in state 1 then"},
		&cli.StringFlag{Name: "initial", Usage: "or the `PROBABILITIES` of each true state at the first rating"},
		&cli.BoolFlag{Name: "gamma", Usage: "subjects differ by a pace of their own"},
		&cli.StringFlag{Name: "start", Usage: "`RATES` to start from, one for each move or group of moves"},
		&cli.StringFlag{Name: "start-errors", Usage: "`PROBABILITIES` of rating errors to start from"},
		&cli.BoolFlag{Name: "at-start", Usage: "only evaluate −2 log L at the starting values"},
		&cli.StringFlag{Name: "subject", Value: "subject", Usage: "the `COLUMN` of subjects"},
		&cli.StringFlag{Name: "time", Value: "time", Usage: "the `COLUMN` of times, in years"},
		&cli.StringFlag{Name: "state", Value: "state", Usage: "the `COLUMN` of states"},
	}
}

// fitFormat refuses a form of answer before any work is done.
func fitFormat(c *cli.Context) error {
	if f := c.String("format"); f != "table" && f != "csv" && f != "json" {
		return usagef("--format is table, csv or json, not %q", f)
	}
	return nil
}

func printJSON(out io.Writer, v any) error {
	e := json.NewEncoder(out)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// tellFit prints what every fit reports: estimates, stays and the fit itself.
func tellFit(c *cli.Context, w world, r panel.Report) error {
	if c.String("format") == "json" {
		return printJSON(w.out, r)
	}
	if err := tellEstimates(c, w, r); err != nil || c.String("format") == "csv" {
		return err
	}
	fmt.Fprintln(w.out)
	if err := tellStays(c, w, r.Stays); err != nil {
		return err
	}
	fmt.Fprintln(w.out)
	tellLikelihood(w.out, r)
	return nil
}

func tellEstimates(c *cli.Context, w world, r panel.Report) error {
	out, err := newRows(c, w.out, column{name: "name", heading: "estimate"}, column{name: "value", heading: "value"},
		column{name: "lower_95", heading: "95 % from"}, column{name: "upper_95", heading: "to"}, column{name: "log_se", heading: "se of log"})
	if err != nil {
		return err
	}
	for _, e := range r.Estimates {
		value, known := figure(c, e.Value, true), e.SE > 0
		if c.String("format") == "table" && e.Value < 1e-6 {
			value = "next to 0"
		}
		if err := out.add(e.Name, value, figure(c, e.Lower, known), figure(c, e.Upper, known), figure(c, e.SE, known)); err != nil {
			return err
		}
	}
	return out.close()
}

// figure is a number with five digits in a table and all of them elsewhere;
// what is not known is nothing.
func figure(c *cli.Context, v float64, known bool) any {
	switch {
	case !known:
		return nil
	case c.String("format") == "table":
		return fmt.Sprintf("%.5g", v)
	}
	return v
}

func tellStays(c *cli.Context, w world, stays []panel.Stay) error {
	out, err := newRows(c, w.out, column{name: "state", heading: "state"}, column{name: "mean", heading: "mean years in it"},
		column{name: "lower", heading: "95 % from"}, column{name: "upper", heading: "to"}, column{name: "median", heading: "median"})
	if err != nil {
		return err
	}
	for _, s := range stays {
		known := s.Upper > 0
		err := out.add(s.State, figure(c, s.MeanYears, true), figure(c, s.Lower, known), figure(c, s.Upper, known), figure(c, s.MedianYears, true))
		if err != nil {
			return err
		}
	}
	return out.close()
}

// tellLikelihood prints how the fit came out and what it rests on.
func tellLikelihood(out io.Writer, r panel.Report) {
	fmt.Fprintf(out, "−2 log L %.6f\n", r.MinusTwoLogL)
	if r.Subjects > 0 {
		fmt.Fprintf(out, "%d rows of %s\n", r.Observations, plural(r.Subjects, "subject"))
	}
	if r.Repeated > 0 {
		fmt.Fprintf(out, "  left out: %s that said the same as another\n", plural(r.Repeated, "row"))
	}
	fmt.Fprintf(out, "%s in use, %.0f years\n", plural(r.Intervals, "interval"), r.Years)
	if r.Approximate > 0 {
		fmt.Fprintf(out, "  %d of them by shares alone, which is approximate\n", r.Approximate)
	}
	if r.Alike {
		fmt.Fprintln(out, "  no difference between subjects was found: k runs off to infinity")
	}
	for _, reason := range slices.Sorted(maps.Keys(r.LeftOut)) {
		fmt.Fprintf(out, "  left out: %s, %s\n", plural(r.LeftOut[reason], "interval"), reason)
	}
	switch {
	case r.AtStart:
		fmt.Fprintln(out, "evaluated at the starting values; nothing was fitted")
	case r.Converged:
		fmt.Fprintln(out, "converged")
	default:
		fmt.Fprintln(out, "DID NOT CONVERGE: do not rely on these estimates; fewer parameters may help")
	}
}

// hinted adds what to do about a file or option that cannot be used.
func hinted(err error) error {
	if hint := panel.Explain(err); hint != "" {
		return store.Hinted(err, hint)
	}
	return err
}
