package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// networkFlags are those of a fit to the inspections on record.
func networkFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "with", Value: "seal", Usage: "`FACTORS` that rates depend on: " + strings.Join(forecast.FactorNames(), ",")},
		&cli.StringFlag{Name: "until", Usage: "leave out what came after this `DATE`"},
		&cli.StringFlag{Name: "records-since", Usage: "seals that failed before this `DATE` are not on record; the first inspection's if not given"},
		&cli.Float64Flag{Name: "prior-sd", Value: 0.7, Usage: "standard deviation of a log rate about the life table's"},
		&cli.BoolFlag{Name: "hold-site-share", Usage: "go by the setting site_share; else it is estimated from seals that follow one another in their place"},
		&cli.BoolFlag{Name: "worn-failed", Usage: "a seal removed for wear had failed by then, though nobody found it so"},
		dryRunFlag,
	}
}

// fitNetwork fits the inspections on record and keeps the fit.
func fitNetwork(c *cli.Context, w world) error {
	if err := fitFormat(c); err != nil {
		return err
	}
	o := forecast.FitOptions{With: list(c, "with"), PriorSD: c.Float64("prior-sd"), RatingError: c.Bool("rating-error"), HoldSiteShare: c.Bool("hold-site-share"), WornFailed: c.Bool("worn-failed")}
	if !(o.PriorSD > 0 && o.PriorSD < 10) {
		return usagef("--prior-sd is between 0 and 10")
	}
	for name, to := range map[string]*inventory.Date{"until": &o.Until, "records-since": &o.RecordsSince} {
		if day := c.String(name); day != "" {
			var err error
			if *to, err = inventory.ParseDate(day); err != nil {
				return usagef("--%s: %w", name, err)
			}
		}
	}
	var f *forecast.Fit
	var t *forecast.Tables
	err := reading(c, w, func(s *store.Store) (err error) {
		if t, err = forecast.LoadTables(c.Context, s.Read()); err != nil {
			return err
		}
		p := startProgress(w.err, "joints", 0)
		defer p.end()
		o.Counted, o.Fitting = func(n int) { p.add(int64(n)) }, p.say
		f, err = forecast.NewFit(c.Context, s.Read(), t, o)
		return err
	})
	if err != nil {
		return err
	}
	if !c.Bool("dry-run") {
		if err := changing(c, w, func(tx *store.Tx) error { return f.Save(c.Context, tx, false) }); err != nil {
			return err
		}
	}
	if err := tellNetworkFit(c, w, t, f); err != nil {
		return err
	}
	switch {
	case c.Bool("dry-run"):
		fmt.Fprintln(w.err, "dry run: nothing was kept")
	case f.Report.Converged:
		fmt.Fprintf(w.err, "kept as fit %d; forecasts rest on it after: reseal fit --use %d\n", f.ID, f.ID)
	default:
		fmt.Fprintf(w.err, "kept as fit %d, which did not converge and cannot be used\n", f.ID)
	}
	return nil
}

func tellNetworkFit(c *cli.Context, w world, t *forecast.Tables, f *forecast.Fit) error {
	if c.String("format") == "json" {
		return printJSON(w.out, f)
	}
	if err := tellEstimates(c, w, f.Report); err != nil || c.String("format") == "csv" {
		return err
	}
	fmt.Fprintln(w.out)
	if err := tellKinds(c, w, t, f); err != nil {
		return err
	}
	if words := f.Hazards(); len(words) > 0 {
		fmt.Fprintln(w.out)
		notes(c, w, words...)
	}
	fmt.Fprintln(w.out)
	tellBasis(w.out, f)
	return nil
}

// tellKinds prints the fitted life table beside the agency's.
func tellKinds(c *cli.Context, w world, t *forecast.Tables, f *forecast.Fit) error {
	kinds, err := f.KindLives(t)
	if err != nil {
		return err
	}
	fmt.Fprintln(w.out, "median years in each state, other factors at their reference, and those of the life table")
	out, err := newRows(c, w.out, column{name: "kind", heading: "seal", shrink: true}, column{heading: "CS1"}, column{heading: "CS2"},
		column{heading: "CS3"}, column{heading: "table CS1"}, column{heading: "CS2"}, column{heading: "CS3"})
	if err != nil {
		return err
	}
	for _, k := range kinds {
		cells := []any{k.Kind}
		for _, years := range append(k.MedianYears[:], k.TableYears[:]...) {
			cells = append(cells, fmt.Sprintf("%.1f", years))
		}
		if err := out.add(cells...); err != nil {
			return err
		}
	}
	return out.close()
}

// tellBasis prints what a fit rests on.
func tellBasis(out io.Writer, f *forecast.Fit) {
	r := f.Report
	fmt.Fprintf(out, "%s from %s to %s, on %s of %s; %.0f years of wear\n", plural(r.Intervals, "interval"), f.From, f.To,
		plural(f.Joints, "joint"), plural(r.Clusters, "bridge"), r.Years)
	if f.Starts > 0 {
		fmt.Fprintf(out, "  and the age at its first inspection of %s; records since %s\n", plural(f.Starts, "seal"), f.Settings.RecordsSince)
	}
	for _, reason := range slices.Sorted(maps.Keys(f.LeftOut)) {
		fmt.Fprintf(out, "  left out: %d %s\n", f.LeftOut[reason], reason)
	}
	how := map[bool]string{true: "estimated", false: "as in the settings"}
	fmt.Fprintf(out, "pieces in a joint %.3g, %s; ", r.Pieces, how[f.Settings.EstimatedPieces])
	switch {
	case r.Alike:
		fmt.Fprintln(out, "joints do not differ more than chance allows")
	default:
		fmt.Fprintf(out, "k of the pace %.3g, %s\n", r.K, how[f.Settings.EstimatedK])
	}
	if e := f.SiteShare; e != nil {
		fmt.Fprintf(out, "a new seal keeps the pace of the one before it with a probability of %.2g (95 %%: %.2g to %.2g), estimated\n", e.Value, e.Lower, e.Upper)
	} else if share := f.Settings.SiteShare; share > 0 {
		fmt.Fprintf(out, "a new seal is taken to keep the pace of the one before it with a probability of %.2g, as in the settings\n", share)
	} else {
		fmt.Fprintln(out, "each seal is taken to have a pace of its own, also after another in its place")
	}
	if words := f.RatingWords(); words != "" {
		fmt.Fprintln(out, words)
	}
	if words := f.WornWords(); words != "" {
		fmt.Fprintln(out, words)
	}
	fmt.Fprintf(out, "priors: rates about the life table's, standard deviation %.2g of the logarithm; effects %.2g\n", f.Settings.PriorSD, f.Settings.EffectSD)
	fmt.Fprintf(out, "−2 log L %.4f", r.MinusTwoLogL)
	if r.Converged {
		fmt.Fprintln(out, ", converged")
	} else {
		fmt.Fprintln(out, "; DID NOT CONVERGE: do not rely on it")
	}
}

// fitList lists the fits on record.
func fitList(c *cli.Context, w world) error {
	return reading(c, w, func(s *store.Store) error {
		fits, err := forecast.Fits(c.Context, s.Read())
		if err != nil {
			return err
		}
		out, err := newRows(c, w.out, column{name: "fit", heading: "fit"}, column{name: "in_use", heading: "in use"},
			column{name: "made_at"}, column{name: "made_by"}, column{name: "data_from", heading: "from"}, column{name: "data_to", heading: "to"},
			column{name: "joints", heading: "joints"}, column{name: "intervals", heading: "intervals"}, column{name: "pieces", heading: "pieces"},
			column{name: "k", heading: "k"}, column{name: "minus_2_log_l", heading: "−2 log L"}, column{name: "converged", heading: "converged"},
			column{name: "with", heading: "with", shrink: true})
		if err != nil {
			return err
		}
		inUse := false
		for _, f := range fits {
			inUse = inUse || f.InUse
			r := f.Report
			err := out.add(f.ID, f.InUse, string(f.MadeAt), f.MadeBy, f.From, f.To, f.Joints, r.Intervals, r.Pieces, r.K, r.MinusTwoLogL, r.Converged, with(f))
			if err != nil {
				return err
			}
		}
		if err := out.close(); err != nil {
			return err
		}
		if !inUse {
			notes(c, w, "no fit is in use: forecasts rest on the life table")
		}
		return nil
	})
}

// with names the factors of a fit.
func with(f *forecast.Fit) string {
	var names []string
	for _, x := range f.Settings.Factors {
		names = append(names, x.Name)
	}
	if f.Settings.RatingError {
		names = append(names, "rating error")
	}
	if f.Settings.WornFailed {
		names = append(names, "worn is failed")
	}
	return strings.Join(names, ",")
}

// fitUse puts a fit in use, or the life table.
func fitUse(c *cli.Context, w world) error {
	which := c.String("use")
	id, err := strconv.ParseInt(which, 10, 64)
	if which == "prior" {
		id, err = 0, nil
	}
	if err != nil || id < 0 || which == "0" {
		return usagef("--use is the number of a fit, or prior for the life table, not %q", which)
	}
	if err := changing(c, w, func(tx *store.Tx) error { return forecast.UseFit(c.Context, tx, id) }); err != nil {
		return err
	}
	if c.Bool("dry-run") {
		fmt.Fprintln(w.err, "dry run: nothing was kept")
		return nil
	}
	fmt.Fprintf(w.err, "forecasts now rest on %s; bring those stored up to date with: reseal forecast\n",
		map[bool]string{true: "the life table", false: fmt.Sprint("fit ", id)}[id == 0])
	return nil
}

// fitCompare sets two fits side by side.
func fitCompare(c *cli.Context, w world) error {
	if c.Args().Len() != 1 {
		return usagef("--compare takes the numbers of two fits")
	}
	var ids [2]int64
	for i, text := range []string{c.String("compare"), c.Args().First()} {
		var err error
		if ids[i], err = strconv.ParseInt(text, 10, 64); err != nil {
			return usagef("--compare takes the numbers of two fits, not %q", text)
		}
	}
	return reading(c, w, func(s *store.Store) error {
		a, err := forecast.FitByID(c.Context, s.Read(), ids[0])
		if err != nil {
			return err
		}
		b, err := forecast.FitByID(c.Context, s.Read(), ids[1])
		if err != nil {
			return err
		}
		return tellCompare(c, w, a, b)
	})
}

func tellCompare(c *cli.Context, w world, a, b *forecast.Fit) error {
	out, err := newRows(c, w.out, column{name: "estimate", heading: "estimate"},
		column{name: "first", heading: fmt.Sprint("fit ", a.ID)}, column{name: "first_interval", heading: "95 %"},
		column{name: "second", heading: fmt.Sprint("fit ", b.ID)}, column{name: "second_interval", heading: "95 %"},
		column{name: "ratio", heading: "ratio"})
	if err != nil {
		return err
	}
	type pair struct{ value, interval any }
	values := [2]map[string]float64{{}, {}}
	cells := [2]map[string]pair{{}, {}}
	var names []string
	for i, f := range []*forecast.Fit{a, b} {
		for _, e := range f.Report.Estimates {
			if _, ok := cells[0][e.Name]; i == 0 || !ok {
				names = append(names, e.Name)
			}
			values[i][e.Name] = e.Value
			cells[i][e.Name] = pair{fmt.Sprintf("%.4g", e.Value), fmt.Sprintf("%.3g–%.3g", e.Lower, e.Upper)}
		}
	}
	for _, name := range names {
		var ratio any
		if x, y := values[0][name], values[1][name]; x > 0 && y > 0 {
			ratio = fmt.Sprintf("%.2f", y/x)
		}
		if err := out.add(name, cells[0][name].value, cells[0][name].interval, cells[1][name].value, cells[1][name].interval, ratio); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil {
		return err
	}
	notes(c, w, compareWords(a, b)...)
	return nil
}

// compareWords say whether two fits can be set against each other.
func compareWords(a, b *forecast.Fit) []string {
	words := []string{""}
	for _, f := range []*forecast.Fit{a, b} {
		words = append(words, fmt.Sprintf("%s, with %s: −2 log L %.4f with %d parameters, pieces %.3g, k %.3g",
			f.Words(), with(f), f.Report.MinusTwoLogL, len(f.Theta), f.Report.Pieces, f.Report.K))
	}
	if a.Report.Intervals != b.Report.Intervals || a.From != b.From || a.To != b.To || a.Report.Pieces != b.Report.Pieces ||
		a.Settings.RatingError != b.Settings.RatingError || a.Settings.WornFailed != b.Settings.WornFailed {
		return append(words, "they are of other data, or of other numbers of pieces: their −2 log L cannot be compared; judge them with reseal backtest")
	}
	aic := func(f *forecast.Fit) float64 { return f.Report.MinusTwoLogL + 2*float64(len(f.Theta)) }
	best, d := a, aic(b)-aic(a)
	if d < 0 {
		best, d = b, -d
	}
	if d < 2 {
		return append(words, "their AIC differs by less than 2: the data cannot tell them apart")
	}
	return append(words, fmt.Sprintf("fit %d is better by AIC, by %.1f", best.ID, d))
}
