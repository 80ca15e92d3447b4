package forecast

import (
	"fmt"
	"sync"
	"time"

	"reseal/forecast/markov"
	"reseal/forecast/money"
	"reseal/forecast/strategy"
	"reseal/inventory"
)

// lookbackYears is the longest time from a joint's last inspection to the end
// of a projection. A seal older than that has long failed.
const lookbackYears = 150

// Model projects joints by the agency's tables: one chain for each seal kind,
// or for each row of covariates of the fit in use.
type Model struct {
	tables   *Tables
	pace     markov.Pace
	groups   map[string]*group
	fitted   *fitted  // nil: the life table
	draws    []*Model // of the fit's parameters
	calendar money.FiscalCalendar
}

// group is the joints of one seal kind.
type group struct {
	kind         string
	basis        string // the fit that it is of; empty: the life table
	chain        markov.Chain
	outlook      *markov.Outlook
	illustrative bool
	known        bool // false: the life table has no such kind and lends another's row

	treated func() (*treated, error) // worked out when it is first asked for
}

// treated is how the seals of a group fare after a treatment.
type treated struct {
	fresh    strategy.Curve // of a new seal of a joint not known yet, failed
	freshCS4 strategy.Curve // its share of length in CS4
	// by the share that a repair makes new: its Failed is the probability that more
	// is in CS4 than such a repair can put right
	beyond map[float64]*markov.Outlook
}

// NewModel makes the chains of the fit in use, or else of the life table.
// Errors name the row.
func NewModel(t *Tables) (*Model, error) {
	if t.Fit != nil {
		return newFitted(t)
	}
	m := &Model{tables: t, groups: map[string]*group{}, calendar: t.Settings.Calendar()}
	var err error
	if m.pace, err = markov.NewPace(t.Settings.PaceK, 0); err != nil {
		return nil, err
	}
	for _, l := range t.Lives {
		if m.groups[l.Kind], err = m.newGroup(l); err != nil {
			return nil, fmt.Errorf("life table, %s: %w", l.Kind, err)
		}
	}
	if _, _, err := t.life(inventory.KindOther); err != nil {
		return nil, err
	}
	return m, nil
}

func (m *Model) newGroup(l Life) (*group, error) {
	chain, err := markov.WorseningChain(l.CS1Years, l.CS2Years, l.CS3Years)
	if err != nil {
		return nil, err
	}
	g := &group{kind: l.Kind, chain: chain, illustrative: l.Illustrative, known: true}
	return g, m.lookAhead(g)
}

// lookAhead works out what a group's chain comes to: as it is at once, for a new
// seal and for each share that a repair can make new when it is first asked for.
func (m *Model) lookAhead(g *group) (err error) {
	if g.outlook, err = markov.NewOutlook(g.chain, m.pace, m.tables.Settings.Failure(), lookbackYears); err != nil {
		return err
	}
	g.treated = sync.OnceValues(func() (*treated, error) { return m.treatedOf(g) })
	return nil
}

func (m *Model) treatedOf(g *group) (*treated, error) {
	t := &treated{beyond: map[float64]*markov.Outlook{}}
	for _, r := range m.tables.Treatments {
		if r.effect() != strategy.Repairs || t.beyond[r.RepairsShare] != nil {
			continue
		}
		rule := m.tables.Settings.Failure()
		rule.ShareLimit = min(rule.ShareLimit+r.RepairsShare, 1)
		var err error
		if t.beyond[r.RepairsShare], err = markov.NewOutlook(g.chain, m.pace, rule, lookbackYears); err != nil {
			return nil, err
		}
	}
	p := &projector{Model: m}
	t.fresh = p.curve(g, asNew, m.pace.Prior, 0, nil)
	t.freshCS4 = p.cs4(g, asNew, m.pace.Prior, 0)
	return t, nil
}

// group is that of a seal of a joint; a kind that the life table does not have
// borrows the row of other seals.
func (m *Model) group(r *Record, s *Seal) *group {
	if m.fitted != nil {
		return m.fitted.group(m, r, s)
	}
	if g, ok := m.groups[s.Kind]; ok {
		return g
	}
	g := *m.groups[inventory.KindOther]
	g.known = false
	return &g
}

// YearOf is the fiscal year of a day.
func (m *Model) YearOf(d inventory.Date) int { return m.calendar.YearOf(d.Year, d.Month) }

// endOf is the first day after a fiscal year.
func (m *Model) endOf(year int) inventory.Date {
	y, month := m.calendar.Start(year + 1)
	return inventory.DateOf(time.Date(y, month, 1, 0, 0, 0, 0, time.UTC))
}
