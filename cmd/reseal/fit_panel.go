package main

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/forecast/markov"
	"reseal/forecast/panel"
	"reseal/inventory/table"
)

// fitPanel fits a plain file.
func fitPanel(c *cli.Context, w world) error {
	if err := fitFormat(c); err != nil {
		return err
	}
	o, err := panelOptions(c)
	if err != nil {
		return err
	}
	f, err := readPanel(c, w)
	if err != nil {
		return err
	}
	complete(c, f, &o)
	fit, err := f.Fit(o)
	if err != nil {
		return hinted(err)
	}
	return tellFit(c, w, fit.Report)
}

// complete gives the options the moves and rating errors that the file asks
// for, where the command line doesn't.
func complete(c *cli.Context, f *panel.File, o *panel.Options) {
	if o.Moves == nil {
		o.Moves = markov.Worsening(f.States())
	}
	if c.Bool("rating-error") && o.RatingError == nil {
		o.RatingError = panel.Neighbours(o.Moves.States(), o.ExactFinal)
	}
}

// readPanel reads the file that --panel names.
func readPanel(c *cli.Context, w world) (*panel.File, error) {
	path := c.String("panel")
	in, closeFile, err := openInput(path, w)
	if err != nil {
		return nil, err
	}
	defer closeFile()
	f, err := panel.Read(in, filepath.Base(path), panel.Columns{
		Subject: c.String("subject"), Time: c.String("time"), State: c.String("state"), Born: c.String("born"), Covariates: list(c, "covariates"),
	})
	var faults *table.Faults
	if err == nil && f.States() < 2 {
		return nil, usagef("%s has one state only: nothing moves", filepath.Base(path))
	}
	if errors.As(err, &faults) {
		return nil, faults
	}
	return f, err
}

// list is a flag's parts between commas.
func list(c *cli.Context, name string) (parts []string) {
	for part := range strings.SplitSeq(c.String(name), ",") {
		if part = strings.TrimSpace(part); part != "" {
			parts = append(parts, part)
		}
	}
	return parts
}

func panelOptions(c *cli.Context) (panel.Options, error) {
	o := panel.Options{
		ExactFinal: c.Bool("exact-final"), Constrain: list(c, "constrain"), FirstTrue: c.Bool("first-true"),
		Gamma: c.Bool("gamma"), AtStart: c.Bool("at-start"),
	}
	var problems []error
	for name, to := range map[string]*markov.Moves{"moves": &o.Moves, "rating-errors": &o.RatingError} {
		if c.String(name) == "" {
			continue
		}
		var err error
		if *to, err = markov.ParseMoves(c.String(name)); err != nil {
			problems = append(problems, usagef("--%s: %w", name, err))
		}
	}
	for name, to := range map[string]*[]float64{"start": &o.Start, "start-errors": &o.StartErrors, "initial": &o.Initial} {
		if c.String(name) == "" {
			continue
		}
		var err error
		if *to, err = panel.Numbers(c.String(name)); err != nil {
			problems = append(problems, usagef("--%s: %w", name, err))
		}
	}
	switch {
	case len(problems) > 0:
		slices.SortFunc(problems, func(a, b error) int { return strings.Compare(a.Error(), b.Error()) })
		return o, problems[0]
	case o.AtStart && o.Start == nil:
		return o, usagef("--at-start needs --start RATES")
	case o.FirstTrue && o.RatingError == nil && !c.Bool("rating-error"):
		return o, usagef("--first-true goes with --rating-error")
	case o.Initial != nil && o.FirstTrue:
		return o, usagef("give --initial or --first-true, not both")
	case o.StartErrors != nil && o.RatingError == nil && !c.Bool("rating-error"):
		return o, usagef("--start-errors goes with --rating-error")
	}
	return o, nil
}
