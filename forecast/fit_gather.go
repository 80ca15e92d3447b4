package forecast

import (
	"context"
	"errors"

	"reseal/condition"

	"github.com/uptrace/bun"

	"reseal/forecast/markov"
	"reseal/inventory"
)

// InspectedBetween are the days of the earliest and the latest inspection with a date
// of its own; zero where there is none. What was corrected does not count.
func InspectedBetween(ctx context.Context, db bun.IDB) (first, last inventory.Date, err error) {
	err = db.NewRaw(`SELECT min(inspected_on), max(inspected_on) FROM inspections i
		WHERE date_known <> ? AND NOT EXISTS (SELECT 1 FROM inspections n WHERE n.replaces_id = i.id)`, condition.NoLaterThan).Scan(ctx, &first, &last)
	return first, last, err
}

// gatherer fills the panel of a fit, page by page.
type gatherer struct {
	fit       *Fit
	factors   []Factor
	panel     *markov.Panel
	ratings   *markov.Ratings // the same lives with what improved, where ratings may err; or nil
	repeated  int             // lives of two intervals or more
	seals     []int           // by covariate
	followers int             // lives that follow another in their place

	holdSiteShare bool
	fitting       func(what string) // tells what is being fitted
}

// jointLives are the lives of one joint with their covariates.
type jointLives struct {
	bridge int64
	lives  []sealLife
	after  []int // by life: new seals since the one before it; 0: nothing before it tells of its pace
	x      [][]float64
}

// lifePage is what one page of records gives.
type lifePage struct {
	joints []jointLives
	count  int
	collector
}

func (g *gatherer) gather(ctx context.Context, db bun.IDB, o FitOptions) error {
	var err error
	g.seals = make([]int, len(covariateNames(g.factors)))
	if g.panel, err = markov.NewPanel(markov.Worsening(4), len(g.seals)); err != nil {
		return err
	}
	if o.RatingError {
		if g.ratings, err = markov.NewRatings(markov.Worsening(4), len(g.seals)); err != nil {
			return err
		}
	}
	g.fit.LeftOut = map[string]int{}
	produce := func(ctx context.Context, yield func([]Record) error) error {
		return eachPage(ctx, db, inventory.Filter{}, func(ids []int64) error {
			records, err := loadRecords(ctx, db, ids, o.Until)
			if err != nil {
				return err
			}
			return yield(records)
		})
	}
	read := func(records []Record) *lifePage {
		p := &lifePage{count: len(records), collector: collector{ratingErrors: o.RatingError, wornFailed: o.WornFailed, recordsSince: o.RecordsSince, leftOut: map[string]int{}}}
		for i := range records {
			p.read(&records[i])
			j := jointLives{bridge: records[i].Bridge.ID}
			j.lives, j.after = inUse(p.lives)
			for k := range j.lives {
				j.x = append(j.x, covariates(nil, g.factors, &records[i], &j.lives[k].seal))
			}
			if len(j.lives) > 0 {
				p.joints = append(p.joints, j)
			}
		}
		return p
	}
	return inventory.InOrder(ctx, produce, read, func(p *lifePage) error {
		if o.Counted != nil {
			o.Counted(p.count)
		}
		return g.add(p)
	})
}

func (g *gatherer) add(p *lifePage) error {
	for reason, n := range p.leftOut {
		g.fit.LeftOut[reason] += n
	}
	if !p.first.IsZero() && (g.fit.From.IsZero() || p.first.Before(g.fit.From)) {
		g.fit.From = p.first
	}
	if g.fit.To.Before(p.last) {
		g.fit.To = p.last
	}
	for _, j := range p.joints {
		g.fit.Joints++
		for i := range j.lives {
			if err := g.life(j.bridge, j.after[i], &j.lives[i], j.x[i]); err != nil {
				return err
			}
		}
	}
	return nil
}

// inUse are the lives that tell anything, and how many new seals have gone in
// since the one before on the same stretch, whose pace each keeps in part; 0 for
// the first, and for a seal that is in only because it had not failed, for that
// is a condition on a pace of which nothing is known.
func inUse(lives []sealLife) (use []sealLife, after []int) {
	since, follows := 0, false
	for _, l := range lives {
		since++
		if follows = follows && l.follows && !l.start.onRecord; !follows {
			since = 0
		}
		if len(l.spans) > 0 || l.start.known {
			use, after = append(use, l), append(after, since)
			since, follows = 0, true
		}
	}
	return use, after
}

// life adds a life to the panel, after so many renewals since the one before.
func (g *gatherer) life(bridge int64, renewals int, l *sealLife, x []float64) error {
	if renewals > 0 {
		g.followers++
		g.panel.Renew(renewals)
	} else {
		g.panel.Begin(int(bridge))
	}
	for c, v := range x {
		g.seals[c] += int(v)
	}
	if len(l.spans) > 1 {
		g.repeated++
	}
	starts := l.start.possible()
	if len(starts) > 0 {
		switch err := g.panel.StartedAt(l.start.shares[:], x, starts...); {
		case err == nil:
			g.fit.Starts++
		case !errors.Is(err, markov.ErrImpossible): // failed as the records began: its age tells nothing
			return err
		default:
			starts = nil
		}
	}
	for i := range l.spans {
		s := &l.spans[i]
		if s.improved {
			g.fit.Improved++
			continue
		}
		seen := markov.Inspected
		if s.failed {
			seen = markov.FailedSince
			g.fit.WornFailed++
		}
		if _, err := g.panel.Add(markov.Interval{Years: s.years, Before: s.before[:], After: s.after[:], Seen: seen, X: x}); err != nil {
			return err
		}
	}
	if g.ratings == nil {
		return nil
	}
	if renewals > 0 {
		g.ratings.Renew(renewals)
	} else {
		g.ratings.BeginShares(int(bridge))
	}
	for _, run := range l.runs(starts, x) {
		if err := g.ratings.AddRun(run); err != nil {
			return err
		}
	}
	return nil
}

// possible are the possible beginnings of a life, as the estimator takes them.
func (s *sealStart) possible() (starts []markov.Start) {
	for _, age := range s.ages {
		v := markov.Start{AgeYears: age}
		if s.onRecord {
			v.RecordAgeYears = age - s.before
			v.Replaced = v.RecordAgeYears < s.siteAge-1
		}
		starts = append(starts, v)
	}
	return starts
}

// runs are the life's looks in rows without work or a gap in between.
func (l *sealLife) runs(starts []markov.Start, x []float64) (runs []markov.Run) {
	if len(starts) > 0 {
		runs = append(runs, markov.Run{Starts: starts, Looks: []markov.Interval{{After: l.start.shares[:], X: x}}})
	}
	for i := range l.spans {
		s := &l.spans[i]
		if s.failed {
			continue // of the last moment before its removal no rating is on record
		}
		if !s.joined || len(runs) == 0 {
			runs = append(runs, markov.Run{True: s.before[:]})
		}
		run := &runs[len(runs)-1]
		run.Looks = append(run.Looks, markov.Interval{Years: s.years, After: s.after[:], X: x})
	}
	return runs
}
