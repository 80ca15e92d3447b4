package condition

import (
	"context"
	"math"
	"slices"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/element"
)

// Form is what an inspector needs to know beside a joint, with a network or
// without: what is there, what was seen last, and what the gap should be.
type Form struct {
	Joint     inventory.Joint     `json:"joint"`
	Bridge    inventory.Bridge    `json:"bridge"`
	AsOf      inventory.Date      `json:"as_of"`
	SeenID    int64               `json:"seen_id"` // the newest inspection on record, 0 for none
	Newest    *Inspection         `json:"newest,omitempty"`
	Last      *Inspection         `json:"last,omitempty"` // the latest with feet
	Stretches []FormStretch       `json:"stretches"`
	Defects   []FormDefect        `json:"defects"`
	Positions []string            `json:"positions,omitempty"` // where gaps were read
	Readings  []Reading           `json:"readings,omitempty"`  // the latest at each position with a deck temperature
	WorkDays  []inventory.Date    `json:"work_days,omitempty"` // of work that can improve condition
	Findings  []inventory.Finding `json:"findings,omitempty"`  // open
	Opening   FormOpening         `json:"opening"`
}

// FormStretch is a stretch with what was seen on it last.
type FormStretch struct {
	Stretch     int            `json:"stretch"` // from 1
	FromFt      float64        `json:"from_ft"`
	ToFt        float64        `json:"to_ft"`
	LengthFt    float64        `json:"length_ft"` // 0: not on record
	Seal        string         `json:"seal,omitempty"`
	InstalledOn inventory.Date `json:"installed_on,omitzero"`
	Last        *Feet          `json:"last,omitempty"`
}

// FormDefect is a defect that can be seen on the joint, with its last state.
type FormDefect struct {
	Number int       `json:"defect"`
	Name   string    `json:"name"`
	States [4]string `json:"states"`
	Last   int       `json:"last,omitempty"` // state at the last inspection; 0: not recorded
}

// FormOpening is what the opening check lets expect, so that a reading has its
// verdict without a network.
type FormOpening struct {
	Problem        string             `json:"problem,omitempty"` // why nothing can be expected
	Words          string             `json:"words,omitempty"`   // the check of what is on record
	NeedsAttention bool               `json:"needs_attention,omitempty"`
	MinIn          float64            `json:"min_in,omitempty"` // the seal's limits; 0: not on record
	MaxIn          float64            `json:"max_in,omitempty"`
	Deck           []ExpectedBandIn   `json:"deck,omitempty"` // what a tape should read, by deck temperature
	Air            []ExpectedBandIn   `json:"air,omitempty"`  // and where only the air's is known
	OffsetsIn      map[string]float64 `json:"offsets_in,omitempty"`
	Assumed        []string           `json:"assumed,omitempty"`
}

// bandStepF is the step of temperature between two expected bands.
const bandStepF = 5

// FormOf loads the form of a joint as of a day.
func FormOf(ctx context.Context, db bun.IDB, rules *GapRules, j *inventory.Joint, today inventory.Date) (*Form, error) {
	k, err := KnownOf(ctx, db, j, today.AddDays(1), today)
	if err != nil {
		return nil, err
	}
	f := &Form{Joint: *j, Bridge: k.Bridge, AsOf: today, Last: k.Last}
	all, err := Inspections(ctx, db, j.ID)
	if err != nil {
		return nil, err
	}
	for i := range all {
		f.SeenID = max(f.SeenID, all[i].ID)
		if f.Newest == nil && all[i].Source == FromInspection {
			f.Newest = &all[i]
		}
	}
	for _, w := range k.Work {
		if w.Treatment != inventory.TemporaryPlate {
			f.WorkDays = append(f.WorkDays, w.DoneOn)
		}
	}
	f.takeStretches(k)
	f.takeDefects(all)
	f.takeReadings(k.Readings)
	if f.Findings, err = inventory.Findings(ctx, db, inventory.FindingFilter{JointID: j.ID}); err != nil {
		return nil, err
	}
	g, err := OneGap(ctx, db, rules, j.ID, today)
	if err != nil {
		return nil, err
	}
	f.Opening, err = g.expect(rules, today)
	return f, err
}

func (f *Form) takeStretches(k *Known) {
	for i := range k.Stretches {
		t := &k.Stretches[i]
		s := FormStretch{Stretch: i + 1, FromFt: t.FromFt, ToFt: t.ToFt}
		if k.Joint.LengthFt != nil {
			s.LengthFt = t.LengthFt()
		}
		if seal := t.Current(); seal != nil {
			s.Seal, s.InstalledOn = seal.Kind, seal.InstalledOn
		}
		if k.Last != nil {
			for j := range k.Last.Feet {
				if k.Last.Feet[j].StretchID == t.ID {
					s.Last = &k.Last.Feet[j]
				}
			}
		}
		f.Stretches = append(f.Stretches, s)
	}
}

// takeDefects offers the defects of the joint's element, or of any joint where
// it has none on record.
func (f *Form) takeDefects(all []Inspection) {
	number := f.Joint.Element
	if !element.IsJoint(number) {
		number = element.OtherJoint
	}
	for _, d := range element.Defects(number) {
		fd := FormDefect{Number: d.Number, Name: d.Name, States: d.States}
		i := slices.IndexFunc(all, func(in Inspection) bool { return len(in.Defects) > 0 })
		if i >= 0 {
			for _, was := range all[i].Defects {
				if was.Number == d.Number {
					fd.Last = max(fd.Last, was.State)
				}
			}
		}
		f.Defects = append(f.Defects, fd)
	}
}

func (f *Form) takeReadings(readings []Reading) {
	for _, r := range slices.Backward(readings) {
		if !slices.Contains(f.Positions, r.Position) && r.Position != "" {
			f.Positions = append(f.Positions, r.Position)
		}
		known := func(o Reading) bool { return o.Position == r.Position }
		if r.DeckTempF != nil && !slices.ContainsFunc(f.Readings, known) {
			f.Readings = append(f.Readings, r)
		}
	}
}

// expect tells what a tape should read over the range of temperatures and 20 °F
// beyond it.
func (g *Gap) expect(r *GapRules, today inventory.Date) (o FormOpening, err error) {
	o = FormOpening{Problem: g.Problem, MinIn: g.Limits.MinIn, MaxIn: g.Limits.MaxIn, Assumed: g.Assumed}
	if g.Problem != "" {
		return o, nil
	}
	line, err := g.Line(r)
	if err != nil {
		return o, err
	}
	year := today.DecimalYear()
	check := line.Judge(g.Limits, year, r.Opening())
	o.Words, o.NeedsAttention = check.Words(), check.Findings.NeedsAttention()
	over := line.TempRange()
	first, last := math.Floor(over.MinF/bandStepF-4), math.Ceil(over.MaxF/bandStepF+4)
	for i := first; i <= last; i++ {
		o.Deck = append(o.Deck, expectedBand(&line, i*bandStepF, year, false, 0, r))
		o.Air = append(o.Air, expectedBand(&line, i*bandStepF, year, true, 0, r))
	}
	if len(g.Offsets) > 1 {
		o.OffsetsIn = map[string]float64{}
		for _, at := range g.Offsets {
			o.OffsetsIn[at.Position] = at.OffsetIn
		}
	}
	return o, nil
}
