package forecast

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
	"reseal/forecast/panel"
	"reseal/inventory"
	"reseal/inventory/store"
)

// FitOptions say what a fit to the agency's own inspections takes in. The zero
// value is all inspections, rates by seal kind, and the usual priors.
type FitOptions struct {
	Until        inventory.Date // later inspections do not count; zero: all
	With         []string       // factors, of FactorNames; nil: seal
	RecordsSince inventory.Date // since when seals are on record; zero: the first inspection
	PriorSD      float64        // of a log rate about the life table's; 0: 0.7, a factor of 2 either way
	EffectSD     float64        // of a log hazard ratio about 0, or the life table's; 0: 0.5
	RatingError  bool           // feet may be rated one state off, with a probability that is estimated
	Counted      func(joints int)
	// Fitting is called with what is being fitted, in words, once the inspections
	// are read, and with none at the end; nil: nobody is told.
	Fitting func(what string)

	// HoldSiteShare takes the setting site_share as it is; else the share is
	// estimated where enough seals follow another in their place.
	HoldSiteShare bool

	// WornFailed takes it that a seal removed for wear had failed by then, though
	// nobody found it so.
	WornFailed bool
}

func (o FitOptions) withDefaults() FitOptions {
	if o.With == nil {
		o.With = []string{"seal"}
	}
	if o.PriorSD == 0 {
		o.PriorSD = 0.7
	}
	if o.EffectSD == 0 {
		o.EffectSD = 0.5
	}
	if o.Until.IsZero() {
		o.Until = inventory.Date{Year: 9999, Month: 12, Day: 31}
	}
	return o
}

// How many intervals a fit takes. (Our own choice, no source.)
const (
	leastIntervals  = 5   // below, nothing is fitted: the life table says as much
	enoughForPieces = 200 // for w, and lives of two intervals or more for k
	enoughForSites  = 50  // seals that follow another in their place, for the site share
)

// ErrTooFew is wrapped where there is too little to fit.
var ErrTooFew = errors.New("too few inspections to fit")

// Fit is a fit of the model to the agency's inspections, with all that it
// takes to forecast from it.
type Fit struct {
	ID     int64          `json:"id"` // 0: not stored
	MadeAt store.Instant  `json:"made_at,omitempty"`
	MadeBy string         `json:"made_by,omitempty"`
	InUse  bool           `json:"in_use"`
	From   inventory.Date `json:"data_from"`
	To     inventory.Date `json:"data_to"`
	Joints int            `json:"joints"`

	Settings FitSettings    `json:"settings"`
	LeftOut  map[string]int `json:"left_out"`
	Starts   int            `json:"starts"`             // lives that are in by their age at the first inspection
	Improved int            `json:"improved,omitempty"` // intervals that end better than they began, taken as rating errors

	WornFailed int          `json:"worn_failed,omitempty"` // seals removed for wear, taken to have failed by then
	Report     panel.Report `json:"fit"`

	// Of the probability that a new seal keeps the pace of the one before it; nil
	// where that was not estimated.
	SiteShare *markov.SiteShare `json:"site_share,omitempty"`

	Theta      []float64 `json:"theta"`
	Covariance []float64 `json:"covariance"` // sandwich by bridge
}

// FitSettings are what a fit was asked for.
type FitSettings struct {
	Factors         []Factor       `json:"factors"`
	Empty           []bool         `json:"empty"` // by class that is not a reference: nothing to see its effect by
	RecordsSince    inventory.Date `json:"records_since"`
	Until           inventory.Date `json:"until"`
	PriorSD         float64        `json:"prior_sd"`
	EffectSD        float64        `json:"effect_sd"`
	EstimatedK      bool           `json:"k_estimated"`
	EstimatedPieces bool           `json:"pieces_estimated"`
	SiteShare       float64        `json:"site_share"`             // with which a seal was taken to keep the pace of the one before it
	WornFailed      bool           `json:"worn_failed,omitempty"`  // a seal removed for wear had failed
	RatingError     bool           `json:"rating_error,omitempty"` // the last parameter is the logit of its probability
}

// NewFit fits the worsening chain of a foot of seal to the inspections on
// record, by factors, with priors from the life table. Where there is too
// little the error wraps ErrTooFew and says why.
func NewFit(ctx context.Context, db bun.IDB, t *Tables, o FitOptions) (*Fit, error) {
	o = o.withDefaults()
	if o.WornFailed && o.RatingError {
		return nil, store.Invalid("choose one", "a fit with rating errors cannot take seals removed for wear as failed")
	}
	fs, err := factors(ctx, db, o.With)
	if err != nil {
		return nil, err
	}
	if o.RecordsSince.IsZero() {
		if o.RecordsSince, _, err = InspectedBetween(ctx, db); err != nil {
			return nil, err
		}
	}
	f := &Fit{Settings: FitSettings{
		Factors: fs, RecordsSince: o.RecordsSince, Until: o.Until, PriorSD: o.PriorSD, EffectSD: o.EffectSD,
		SiteShare: t.Settings.SiteShare, RatingError: o.RatingError, WornFailed: o.WornFailed,
	}}
	g := &gatherer{fit: f, factors: fs, holdSiteShare: o.HoldSiteShare, fitting: o.Fitting}
	if g.fitting == nil {
		g.fitting = func(string) {}
	}
	if err := g.gather(ctx, db, o); err != nil {
		return nil, err
	}
	defer g.fitting("")
	return f, g.estimate(t)
}

// estimate fits the panel, if it holds enough.
func (g *gatherer) estimate(t *Tables) error {
	f, n := g.fit, g.panel.Counts()
	if n.Intervals+f.Starts < leastIntervals {
		return tooFew(n.Intervals+f.Starts, f.LeftOut)
	}
	f.Settings.EstimatedPieces = n.Intervals >= enoughForPieces
	f.Settings.EstimatedK = g.repeated >= enoughForPieces
	f.Settings.Empty = g.empty(n.Lives)
	m, err := f.model(t)
	if err != nil {
		return err
	}
	fit, err := g.fitPanel(m)
	if err == nil && g.ratings != nil {
		fit, err = g.withErrors(fit)
	}
	if err != nil {
		return err
	}
	if fit.Sandwich == nil {
		return store.Hinted(fmt.Errorf("%w: the inspections do not determine all of the rates", ErrTooFew),
			"fit with fewer factors (--with), or keep the rates nearer to the life table (--prior-sd)")
	}
	f.Report = panel.NewReport(fit)
	f.Report.Alike = f.Settings.EstimatedK && fit.K == 0
	f.Settings.EstimatedK = f.Settings.EstimatedK && fit.K > 0
	f.markPriors()
	f.Theta, f.Covariance = fit.Theta, fit.Sandwich
	for reason, n := range f.Report.LeftOut {
		f.LeftOut[reason] += n
	}
	return nil
}

// fitPanel fits the panel, with the site share where it holds enough for that.
func (g *gatherer) fitPanel(m markov.Model) (*markov.Fit, error) {
	what := fmt.Sprintf("fitting the rates to %d intervals", g.panel.Counts().Intervals)
	if g.holdSiteShare || g.followers < enoughForSites || !m.EstimateK {
		g.fitting(what)
		return markov.FitPanel(g.panel, m)
	}
	g.fitting(what + ", and the share of seals that keep their site's pace")
	fit, share, err := markov.FitSiteShare(g.panel, m)
	if err != nil {
		return nil, err
	}
	g.fit.Settings.SiteShare, g.fit.SiteShare = share.Value, &share
	return fit, nil
}

// ratingPrior is the prior of the probability that a foot is rated one state
// off: 1 in 20, and hardly over 1 in 4. (Our own choice, no source.)
var ratingPrior = markov.Prior{Mean: math.Log(0.05 / 0.95), SD: 1}

// withErrors fits the looks as ratings that may err, from the plain fit on and
// with its number of pieces.
func (g *gatherer) withErrors(plain *markov.Fit) (*markov.Fit, error) {
	g.fitting(fmt.Sprintf("fitting the rates and rating errors to %d intervals", g.ratings.Counts().Intervals))
	m := plain.Model
	m.Pieces, m.EstimatePieces = plain.Pieces, false
	m.Start = append(slices.Clone(plain.Theta), ratingPrior.Mean)
	fit, err := markov.FitRatings(g.ratings, m, markov.RatingError{
		Errors: ratingErrors(), Shared: true, Prior: ratingPrior,
	})
	if err != nil {
		return nil, err
	}
	fit.Model.Start = nil
	return fit, nil
}

// empty tells of each class whether its effect cannot be seen: no seal is of
// it, or all are.
func (g *gatherer) empty(lives int) []bool {
	var out []bool
	for _, x := range g.factors {
		seals := g.seals[len(out) : len(out)+len(x.Classes)]
		same := slices.Contains(seals, lives)
		for _, n := range seals {
			out = append(out, n == 0 || same && x.Name != "seal")
		}
	}
	return out
}

// markPriors says of the effects of seal kinds without seals that they are the
// prior's alone.
func (f *Fit) markPriors() {
	names := covariateNames(f.Settings.Factors)
	for i := range f.Report.Estimates {
		e := &f.Report.Estimates[i]
		for c, name := range names {
			if f.Settings.Empty[c] && strings.HasPrefix(e.Name, name+" ") {
				e.Name += " (prior)"
			}
		}
	}
}

// tooFew says why there is nothing to fit.
func tooFew(have int, leftOut map[string]int) error {
	why := fmt.Sprintf("%d usable intervals between inspections, of %d needed", have, leastIntervals)
	hint := "two dated inspections of a joint, or one and its seal's installation date, make an interval; until then forecasts rest on the life table"
	if n := leftOut[DateUnknown]; n > 0 {
		why += fmt.Sprintf("; %d inspections are known only to be no later than a year's submission, and one such year says nothing of speed", n)
		hint = "import each year's bridges after its elements, which dates the inspections, and the elements of another year; until then forecasts rest on the life table"
	}
	if n := leftOut[OfQuantity]; n > 0 {
		why += fmt.Sprintf("; %d inspections are of a whole bridge's quantity", n)
	}
	return store.Hinted(fmt.Errorf("%w: %s", ErrTooFew, why), hint)
}

// model is the estimator's model with its priors: the log rates of the
// reference kind about the life table's, the effects of other kinds about what
// the life table says, other effects about 0, and log k about the setting's.
func (f *Fit) model(t *Tables) (markov.Model, error) {
	s := f.Settings
	m := f.shape()
	reference := inventory.KindOther
	for _, x := range s.Factors {
		if x.Name == "seal" {
			reference = x.Reference
		}
	}
	base, err := t.logRates(reference)
	if err != nil {
		return m, err
	}
	for _, q := range base {
		m.Prior = append(m.Prior, markov.Prior{Mean: q, SD: s.PriorSD})
	}
	c := 0
	for _, x := range s.Factors {
		for _, class := range x.Classes {
			switch {
			case x.Name == "seal":
				rates, err := t.logRates(class)
				if err != nil {
					return m, err
				}
				for i, q := range rates {
					m.Prior = append(m.Prior, markov.Prior{Mean: q - base[i], SD: s.EffectSD})
				}
			case !s.Empty[c]:
				m.Prior = append(m.Prior, markov.Prior{SD: s.EffectSD})
			}
			c++
		}
	}
	m.SiteShare = s.SiteShare
	m.K, m.Pieces, m.EstimatePieces = t.Settings.PaceK, t.Settings.Pieces, s.EstimatedPieces
	if m.EstimateK {
		m.Prior = append(m.Prior, markov.Prior{Mean: math.Log(t.Settings.PaceK), SD: 1})
	}
	return m, nil
}

// shape is the model without priors: seal kinds have effects of their own on
// each move, other classes one on all, and those that cannot be told apart
// none. A seal kind without seals keeps what the life table says of it.
func (f *Fit) shape() markov.Model {
	m := markov.Model{Covariates: covariateNames(f.Settings.Factors), EstimateK: f.Settings.EstimatedK, EffectGroups: [][]int{}}
	for _, x := range f.Settings.Factors {
		for range x.Classes {
			one := []int{0, 0, 0}
			switch c := len(m.EffectGroups); {
			case x.Name == "seal":
				one = nil
			case f.Settings.Empty[c]:
				one = []int{-1, -1, -1}
			}
			m.EffectGroups = append(m.EffectGroups, one)
		}
	}
	return m
}

// logRates are the logarithms of the life table's rates of a kind; those of
// other seals for a kind that it does not have.
func (t *Tables) logRates(kind string) ([3]float64, error) {
	row, _, err := t.life(kind)
	var q [3]float64
	for i, median := range []float64{row.CS1Years, row.CS2Years, row.CS3Years} {
		q[i] = math.Log(math.Ln2 / median)
	}
	return q, err
}
