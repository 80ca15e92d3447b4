package web

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"time"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// jointPage is a joint for people: what is on record, what is to be expected,
// and the forms to change it.
type jointPage struct {
	*condition.JointRecord
	Second    *inventory.Bridge // that shares the joint; nil: none
	Map       string            // address of the map centred on it; empty: it has no place
	At        orb.Point
	Last      *condition.Inspection // the latest; nil: none
	Photos    []jointPhoto
	TimeLine  template.HTML
	Condition template.HTML

	Forecast *forecast.Projected
	LastYear int // of the forecast
	Pace     string
	Chance   template.HTML

	Opening gapPart
	Cost    *forecast.JointCost
	NoCost  string // why there is none

	Decisions  []forecast.Decision
	Treatments []string
	NextYear   int
	Kinds      []string

	Changes      []changeWords
	Edit         editForm
	Seals        []editForm // of the seals in place
	Illustrative []string
}

// gapPart is the opening check.
type gapPart struct {
	Problem string // why it cannot be checked
	Verdict string
	Alarm   bool
	Seal    string
	From    string // of the limits
	Assumed []string
	Plot    template.HTML
	Margins []marginRow
	ColdF   float64
	HotF    float64
}

// marginRow is what is left at the coldest and the hottest deck by a year's end.
type marginRow struct {
	When      string
	Cold, Hot opening.Margin
	Out       float64 // probability of being out at either end by then
}

func (s *Server) joint(w http.ResponseWriter, r *http.Request) error {
	b, err := s.jointBody(r.Context(), r.PathValue("tag"))
	if err != nil {
		return err
	}
	return s.showJoint(w, r, http.StatusOK, b)
}

func (s *Server) showJoint(w http.ResponseWriter, r *http.Request, status int, b *jointPage) error {
	return s.render(w, r, status, "joint.html", Page{Title: "Joint " + b.Joint.Tag, Nav: "Joints", Style: []string{"joint.css", "chart.css"}, Body: b})
}

// jointBody reads and works out all that the page shows.
func (s *Server) jointBody(ctx context.Context, tag string) (*jointPage, error) {
	db := s.Store.Read()
	record, err := condition.RecordOf(ctx, db, tag)
	if err != nil {
		return nil, err
	}
	a, err := s.theAgency(ctx)
	if err != nil {
		return nil, err
	}
	b := &jointPage{JointRecord: record, NextYear: a.model.YearOf(s.today()) + 1, Illustrative: a.tables.Illustrative()}
	if len(record.Inspections) > 0 {
		b.Last = &record.Inspections[0]
	}
	if g := record.Joint.Geom.Geometry; g != nil {
		b.At = g.Bound().Center()
		b.Map = fmt.Sprintf("/map?at=%.5f,%.5f,17&joint=%s", b.At[1], b.At[0], b.Joint.Tag)
	}
	for _, t := range a.tables.Treatments {
		b.Treatments = append(b.Treatments, t.Name)
	}
	for _, load := range []func() error{
		func() (err error) {
			if id := record.Joint.SecondBridgeID; id != 0 {
				b.Second, err = inventory.BridgeByID(ctx, db, id)
			}
			return err
		},
		func() (err error) { b.Kinds, err = inventory.SealKinds(ctx, db); return err },
		func() (err error) { b.Decisions, err = forecast.DecisionsOn(ctx, db, record.Joint.ID); return err },
		func() (err error) { b.Changes, err = jointChanges(ctx, db, record); return err },
		func() error { return s.foresee(ctx, b, a) },
		func() error { return s.checkGap(ctx, b, a.tables.Gaps) },
	} {
		if err := load(); err != nil {
			return nil, err
		}
	}
	b.Edit = jointForm(record.Joint)
	for i := range record.Stretches {
		if seal := record.Stretches[i].Current(); seal != nil {
			b.Seals = append(b.Seals, sealForm(record.Joint.Tag, seal, b.Kinds))
		}
	}
	b.Photos = s.jointPhotos(b)
	b.TimeLine, b.Condition = timeLine(b, s.today()), conditionBars(b)
	return b, nil
}

// foresee adds the forecast and the costs.
func (s *Server) foresee(ctx context.Context, b *jointPage, a agency) error {
	id := b.Joint.ID
	if b.Joint.Status != inventory.InService {
		b.NoCost = "It is " + b.Joint.Status + "."
		return nil
	}
	j, err := a.model.One(ctx, s.Store.Read(), id, s.asOfToday())
	if err != nil {
		return err
	}
	b.Forecast = &j
	if j.Forecast == nil {
		b.NoCost = "Without a forecast there is no cost of waiting."
		return nil
	}
	b.LastYear, b.Pace, b.Chance = j.Years[len(j.Years)-1], paceWords(j.Pace), chance(&j)
	b.Cost, err = a.model.CostOf(ctx, s.Store.Read(), id, s.asOfToday(), b.NextYear)
	if b.Cost == nil && store.Hint(err) != "" { // of a joint without a length, say
		b.NoCost = err.Error()
		return nil
	}
	return err
}

// paceWords say how fast the joint wears against its kind.
func paceWords(pace float64) string {
	switch {
	case pace > 1.05:
		return fmt.Sprintf("By its own inspections it wears %.1f times as fast as its kind.", pace)
	case pace < 0.95:
		return fmt.Sprintf("By its own inspections it wears slower than its kind: at %.1f times its pace.", pace)
	}
	return "By its own inspections it wears as fast as its kind."
}

// marginYears are how far ahead the room of the seal is told.
var marginYears = [...]int{0, 5, 10, 20}

// checkGap adds the opening check of today.
func (s *Server) checkGap(ctx context.Context, b *jointPage, rules *condition.GapRules) error {
	p := &b.Opening
	if rules == nil || b.Joint.Status != inventory.InService {
		p.Problem = "it is not in service"
		return nil
	}
	today := s.today()
	g, err := condition.OneGap(ctx, s.Store.Read(), rules, b.Joint.ID, today)
	if err != nil {
		return err
	}
	p.Problem, p.Seal, p.From, p.Assumed = g.Problem, g.Seal(), g.LimitsFrom, g.Assumed
	if p.Problem != "" {
		return nil
	}
	line, err := g.Line(rules)
	if err != nil {
		return err
	}
	now := today.DecimalYear()
	check := line.Judge(g.Limits, now, rules.Opening())
	p.Verdict, p.Alarm = check.Words(), check.Findings.NeedsAttention()
	p.ColdF, p.HotF = check.Range.MinF, check.Range.MaxF
	if g.Limits.Known() {
		for _, years := range marginYears {
			when, year := "now", now
			if years > 0 {
				when = fmt.Sprint(today.Year + years)
				year = inventory.Date{Year: today.Year + years + 1, Month: time.January, Day: 1}.DecimalYear()
			}
			at := line.Judge(g.Limits, year, rules.Opening())
			p.Margins = append(p.Margins, marginRow{when, at.Cold, at.Hot, line.OutByYear(nil, g.Limits, now, []float64{year})[0]})
		}
	}
	p.Plot = openingPlot(b.Joint.Tag, g, &line, &check, now)
	return nil
}
