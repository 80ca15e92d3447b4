package main

import (
	"fmt"
	"math"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"reseal/forecast/life"
	"reseal/inventory/store"
)

// lifeShares are the shares of seals whose age of failure is printed.
var lifeShares = []float64{0.01, 0.05, 0.10, 0.20, 0.50, 0.80, 0.90}

// lifeReport is a fitted life as JSON.
type lifeReport struct {
	Family    string         `json:"family"`
	Mu        float64        `json:"mu"`
	MuSE      float64        `json:"mu_se"`
	LogSigma  float64        `json:"log_sigma"`
	LogSigSE  float64        `json:"log_sigma_se"`
	Scale     lifeFigure     `json:"scale"`
	Shape     lifeFigure     `json:"shape"`
	Mean      float64        `json:"mean"`
	SD        float64        `json:"sd"`
	LogLik    float64        `json:"log_likelihood"`
	AIC       float64        `json:"aic"`
	Quantiles []lifeQuantile `json:"quantiles"`
	Counts    life.Counts    `json:"counts"`
	Compared  []lifeCompared `json:"compared"`
}

type lifeFigure struct {
	Value float64 `json:"value"`
	SE    float64 `json:"se"`
	Lower float64 `json:"lower_95"`
	Upper float64 `json:"upper_95"`
}

type lifeQuantile struct {
	Share float64 `json:"share_failed"`
	lifeFigure
}

type lifeCompared struct {
	Family string  `json:"family"`
	LogLik float64 `json:"log_likelihood"`
	AIC    float64 `json:"aic"`
}

// fitLife fits the lives of a plain file.
func fitLife(c *cli.Context, w world) error {
	if err := fitFormat(c); err != nil {
		return err
	}
	path := c.String("life")
	in, closeFile, err := openInput(path, w)
	if err != nil {
		return err
	}
	defer closeFile()
	records, err := life.ReadCSV(in)
	if err != nil {
		return store.Hinted(fmt.Errorf("%s: %w", filepath.Base(path), err),
			"give a row a seal: in left and right the ages between which it failed, right blank while it serves")
	}
	r, err := reportLife(records)
	if err != nil {
		return store.Hinted(fmt.Errorf("%s: %w", filepath.Base(path), err), "a life needs three failures or more, at different ages")
	}
	if c.String("format") == "json" {
		return printJSON(w.out, r)
	}
	return tellLife(c, w, r)
}

func reportLife(records []life.Record) (lifeReport, error) {
	f, err := life.Estimate(records, life.Options{})
	if err != nil {
		return lifeReport{}, err
	}
	shape, shapeSE := f.Shape()
	r := lifeReport{
		Family: f.Family.String(), Mu: f.Mu, MuSE: f.MuSE, LogSigma: math.Log(f.Sigma), LogSigSE: f.LogSigmaSE,
		Scale: lifeFigureOf(f.Scale()), Shape: lifeFigureOf(life.Years{Value: shape, SE: shapeSE}), Mean: f.Mean(), SD: f.SD(),
		LogLik: f.LogLik, AIC: f.AIC, Counts: f.Counts,
	}
	for _, p := range lifeShares {
		q, err := f.Quantile(p)
		if err != nil {
			return r, err
		}
		r.Quantiles = append(r.Quantiles, lifeQuantile{p, lifeFigureOf(q)})
	}
	all, err := life.Compare(records, life.Options{})
	for _, f := range all {
		r.Compared = append(r.Compared, lifeCompared{f.Family.String(), f.LogLik, f.AIC})
	}
	return r, err
}

func lifeFigureOf(y life.Years) lifeFigure {
	low, high := y.Interval(0.95)
	return lifeFigure{y.Value, y.SE, low, high}
}

func tellLife(c *cli.Context, w world, r lifeReport) error {
	out, err := newRows(c, w.out, column{name: "estimate", heading: "estimate"}, column{name: "value", heading: "value"},
		column{name: "lower_95", heading: "95 % from"}, column{name: "upper_95", heading: "to"}, column{name: "se", heading: "se"})
	if err != nil {
		return err
	}
	add := func(name string, v lifeFigure) error {
		return out.add(name, figure(c, v.Value, true), figure(c, v.Lower, true), figure(c, v.Upper, true), figure(c, v.SE, true))
	}
	if err := add("scale", r.Scale); err != nil {
		return err
	}
	if err := add("shape", r.Shape); err != nil {
		return err
	}
	for _, q := range r.Quantiles {
		if err := add(fmt.Sprintf("age by which %g %% have failed", 100*q.Share), q.lifeFigure); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || c.String("format") == "csv" {
		return err
	}
	n := r.Counts
	fmt.Fprintf(w.out, "\nWeibull: mean life %.5g, standard deviation %.5g\nmu %.5g (se %.4g), ln sigma %.5g (se %.4g)\n",
		r.Mean, r.SD, r.Mu, r.MuSE, r.LogSigma, r.LogSigSE)
	fmt.Fprintf(w.out, "%g failed (%g at a known age, %g between two ages, %g by an age), %g in service when last seen\n\n",
		n.Failed(), n.Exact, n.Interval, n.Left, n.Right)
	if err := tellCompared(c, w, r); err != nil {
		return err
	}
	if r.Shape.Upper < 1 {
		fmt.Fprintln(w.out, "the shape is below 1: failures grow rarer with age, as with bad installation, and not with wear")
	}
	return nil
}

// tellCompared prints the families, best first, and what that allows to say.
func tellCompared(c *cli.Context, w world, r lifeReport) error {
	out, err := newRows(c, w.out, column{name: "family", heading: "family"}, column{name: "log_likelihood", heading: "log L"}, column{name: "aic", heading: "AIC"})
	if err != nil {
		return err
	}
	for _, f := range r.Compared {
		if err := out.add(f.Family, fmt.Sprintf("%.3f", f.LogLik), fmt.Sprintf("%.2f", f.AIC)); err != nil {
			return err
		}
	}
	if err := out.close(); err != nil || len(r.Compared) < 2 {
		return err
	}
	// Burnham & Anderson (2002), Model Selection and Multimodel Inference,
	// section 2.6: within 2 there is substantial support for both.
	best, next := r.Compared[0], r.Compared[1]
	if next.AIC-best.AIC < 2 {
		fmt.Fprintf(w.out, "%s fits best by AIC, but by less than 2 from %s: the data cannot tell them apart\n", best.Family, next.Family)
		return nil
	}
	fmt.Fprintf(w.out, "%s fits best by AIC\n", best.Family)
	return nil
}
