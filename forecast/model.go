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
	fitted   *fitted   // nil: the life table
	draws    []*Model  // of the fit's parameters
	rated    []float64 // probability of each rating by true state, row by row; nil: no errors
	calendar money.FiscalCalendar
}

// group is the joints of one seal kind.
type group struct {
	kind         string
	basis        string // the fit that it is of; empty: the life table
	chain        markov.Chain
	uncertainty  float64 // of the fit's rates
	outlook      *markov.Outlook
	illustrative bool
	known        bool // false: the life table has no such kind and lends another's row

	// By the share that a repair makes new: failed is then that more is in CS4 than
	// such a repair can put right.
	beyond map[float64]*markov.Outlook
	fresh  func() fresh // worked out when it is first asked for
}

// fresh is a new seal of a joint whose pace is not known: failed, and its share of
// length in CS4.
type fresh struct{ failed, cs4 strategy.Curve }

// NewModel makes the chains of the fit in use, or else of the life table.
// Errors name the row.
func NewModel(t *Tables) (*Model, error) {
	if t.Fit != nil {
		return newFitted(t, parameterDraws)
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

// lookAhead works out what a group's chain comes to: as it is, for each share that
// a repair can make new, and for a new seal.
func (m *Model) lookAhead(g *group) (err error) {
	rule := m.tables.Settings.Failure()
	if g.outlook, err = markov.NewOutlook(g.chain, m.pace, rule, lookbackYears); err != nil {
		return err
	}
	g.beyond = map[float64]*markov.Outlook{}
	for _, t := range m.tables.Treatments {
		if t.effect() != strategy.Repairs {
			continue
		}
		beyond := rule
		beyond.ShareLimit = min(rule.ShareLimit+t.RepairsShare, 1)
		if g.beyond[t.RepairsShare], err = g.outlook.WithRule(beyond); err != nil {
			return fmt.Errorf("treatment %s: %w", t.Name, err)
		}
	}
	g.fresh = sync.OnceValue(func() fresh {
		p := &projector{Model: m}
		return fresh{p.curve(g, &allNew, m.pace.Prior, 0, nil), p.cs4(g, &allNew, m.pace.Prior, 0)}
	})
	return nil
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
