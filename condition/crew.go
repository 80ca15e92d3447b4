package condition

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/uptrace/bun"

	"reseal/condition/opening"
	"reseal/condition/sheet"
	"reseal/inventory"
	"reseal/inventory/store"
)

// CrewOptions say what a crew goes out for. The zero value proposes the seal
// and plans for today.
type CrewOptions struct {
	Year        float64 // decimal year of the work; 0: that of AsOf
	AsOf        inventory.Date
	Seal        string  // of the catalogue, "KIND, SIZE" or a part of it; blank: proposed
	SpeedMPH    float64 // posted; 0: not known
	OffsetFt    float64 // of the taper; 0: a lane of 12 ft
	WindowHours float64 // of a closure; 0: that of the settings
	Whole       bool    // one sheet for the joint, also where it has several stretches

	Work map[string]sheet.Work // by tag; a joint that is not there gets a new seal
}

// CrewJobs returns what a crew needs to know for one joint, ready for
// sheet.New: a job for each stretch of a joint that has several, else one.
func CrewJobs(ctx context.Context, db bun.IDB, r *GapRules, j *inventory.Joint, o CrewOptions) ([]sheet.Job, error) {
	if o.Year == 0 {
		o.Year = o.AsOf.DecimalYear()
	}
	k, err := KnownOf(ctx, db, j, o.AsOf.AddDays(1), o.AsOf)
	if err != nil {
		return nil, err
	}
	g, err := OneGap(ctx, db, r, j.ID, o.AsOf)
	if err != nil {
		return nil, err
	}
	job := crewJob(k, g)
	job.Work = o.Work[j.Tag]
	if len(g.Seals) > 0 && job.Work.NewKind == g.Seals[0].Kind {
		job.Work.NewKind = ""
	}
	if err := job.Work.HasSheet(); err != nil {
		return nil, err
	}
	job.SpeedMPH, job.OffsetFt, job.WindowHours = o.SpeedMPH, o.OffsetFt, o.WindowHours
	if job.WindowHours == 0 {
		job.WindowHours = r.ClosureHours
	}
	var line *opening.Line
	if l, err := g.Line(r); err == nil {
		line = &l
		job.Openings = l.ExpectedOpenings(o.Year)
	}
	seal, note, err := r.sealFor(g, line, job.Work, o)
	if err != nil {
		return nil, err
	}
	job.Seal = seal
	job.Months = r.Seasons.Of(SealKindOf(seal.Kind), k.Bridge.Climate).Words()
	if line != nil && line.StuckWeight() > 0.9 {
		note = strings.TrimPrefix(note+"; does not move: the engineer in charge looks first", "; ")
	}
	latest, err := latestWithDefects(ctx, db, j.ID, o.AsOf)
	if err != nil {
		return nil, err
	}
	var noted string
	job.HeaderRepairFt, noted = headerRepair(latest)
	job.Poor = poor(latest, 0)
	if note != "" {
		noted += "; " + note
	}
	job.Existing = strings.TrimPrefix(job.Existing+noted, "; ")
	if job.MapSVG, err = crewMap(ctx, db, k); err != nil {
		return nil, err
	}
	if len(k.Stretches) < 2 || o.Whole {
		return []sheet.Job{job}, nil
	}
	return job.Staged(stages(k.Stretches, latest)), nil
}

// crewJob is what the record says of the joint and its place.
func crewJob(k *Known, g *Gap) sheet.Job {
	j, b := &k.Joint, &k.Bridge
	job := sheet.Job{
		Structure: "Bridge " + b.StructureNumber, Joint: j.Tag, Facility: b.FacilityCarried, Feature: b.FeatureIntersected,
		Route: b.Route, Direction: j.Direction, District: b.District, Existing: g.Seal(),
		SkewDeg: g.Theory.SkewDeg, WidthFt: orNone(b.CurbWidthFt), LengthFt: orNone(j.LengthFt),
	}
	if j.Label != "" {
		job.Joint += " (" + j.Label + ")"
	}
	if j.Place != "unknown" {
		job.Joint += ", " + j.Place
	}
	if b.Milepost != nil {
		job.Milepost = fmt.Sprintf("milepost %g", math.Round(*b.Milepost*100)/100)
	}
	if j.Lanes != nil {
		job.Lanes = fmt.Sprintf("%d lanes", *j.Lanes)
	}
	for i := range g.Seals {
		if on := g.Seals[i].InstalledOn; !on.IsZero() {
			job.Existing += "; installed " + on.String()
			break
		}
	}
	if at := j.Geom; at.Geometry != nil {
		c := at.Bound().Center()
		job.LonDeg, job.LatDeg = c[0], c[1]
	}
	return job
}

// sealFor is the seal to install, and what a crew must know of the choice: the
// one named, or else the one that Propose finds, or the one on record where the
// joint cannot be checked. A repair matches the one on record, cleaning needs none.
func (r *GapRules) sealFor(g *Gap, line *opening.Line, work sheet.Work, o CrewOptions) (s opening.Seal, note string, err error) {
	choices := "choose one with --seal; see them with: reseal gap " + g.Tag + " --seal, or reseal settings table list seal_catalogue"
	if o.Seal != "" {
		s, ok := r.Catalogue.Named(o.Seal)
		if !ok {
			return s, "", store.Invalid("give KIND, SIZE as in: reseal settings table list seal_catalogue", "%q is not one seal of the catalogue", o.Seal)
		}
		return s, "", nil
	}
	if work.Cleans() {
		return s, "", nil
	}
	if work.Repairs() {
		return r.sealToMatch(g)
	}
	if line == nil {
		for i := range g.Seals {
			if s, ok := r.Catalogue.Find(g.Seals[i].Kind, g.Seals[i].Size, g.Seals[i].Product); ok {
				return s, "size as on record, the opening was not checked", nil
			}
		}
		if g.Problem == wholeBridge {
			choices = "find its joints first: reseal joint split " + g.Tag + " NUMBER"
		}
		return s, "", store.Invalid(choices, "no seal can be proposed for joint %s: %s", g.Tag, g.Problem)
	}
	c := line.Choose(r.Catalogue, opening.ChooseOptions{Year: o.Year, Confidence: r.SealConfidence})
	best, otherKind := g.Propose(&c)
	if work.NewKind != "" {
		best, otherKind = fitsOfKind(&c, work.NewKind), false
	}
	if best < 0 {
		return s, "", store.Invalid(choices, "no seal of the catalogue fits joint %s", g.Tag)
	}
	if otherKind {
		note = fmt.Sprintf("no %s of the catalogue fits: the engineer in charge decides on another kind", g.Seals[0].Kind)
	}
	s = c.Trials[best].Seal
	s.Source += ". Proposed: the smallest that fits"
	return s, note, nil
}

// sealToMatch is the seal in place that a repair must match; of its kind alone
// where the catalogue does not have it.
func (r *GapRules) sealToMatch(g *Gap) (s opening.Seal, note string, err error) {
	if len(g.Seals) == 0 {
		return s, "", store.Invalid("enter it with: reseal record "+g.Tag, "joint %s has no seal on record that a repair could match", g.Tag)
	}
	p := &g.Seals[0]
	s, ok := r.Catalogue.Find(p.Kind, p.Size, p.Product)
	if !ok {
		s = opening.Seal{Kind: opening.Kind(p.Kind), Size: p.Size}
	}
	return s, "", nil
}

// poor are the feet of an inspection in CS3 and CS4, of one stretch or, for 0, of
// all.
func poor(in *Inspection, stretchID int64) (p sheet.Poor) {
	if in == nil || len(in.Feet) == 0 {
		return p
	}
	p.On = in.InspectedOn.String()
	for _, f := range in.Feet {
		if stretchID == 0 || f.StretchID == stretchID {
			p.CS3Ft, p.CS4Ft = p.CS3Ft+f.CS3Ft, p.CS4Ft+f.CS4Ft
		}
	}
	return p
}

// headerDefect is adjacent deck or header.
const headerDefect = 2360

// headerRepair is the feet of header in CS3 or CS4, and what is noted where the
// feet were not given.
func headerRepair(in *Inspection) (ft float64, noted string) {
	if in == nil {
		return 0, ""
	}
	for _, d := range in.Defects {
		switch {
		case d.Number != headerDefect || d.State < 3:
		case d.FromFt != nil && d.ToFt != nil:
			ft += *d.ToFt - *d.FromFt
		default:
			noted = fmt.Sprintf("; header in CS%d on %s, feet not given: measure", d.State, in.InspectedOn)
		}
	}
	return ft, noted
}

// stages are a joint's stretches as stages of the work, with the header repair
// that falls in each.
func stages(stretches []inventory.SealedStretch, in *Inspection) []sheet.Stage {
	out := make([]sheet.Stage, len(stretches))
	for i, t := range stretches {
		out[i] = sheet.Stage{Name: t.Stage, LengthFt: t.LengthFt(), Poor: poor(in, t.ID)}
		if t.Stage == "" {
			out[i].Name = fmt.Sprintf("%g to %g ft from the left curb", t.FromFt, t.ToFt)
		}
		if in == nil {
			continue
		}
		for _, d := range in.Defects {
			if d.Number == headerDefect && d.State >= 3 && d.FromFt != nil && d.ToFt != nil {
				out[i].HeaderRepairFt += max(0, min(*d.ToFt, t.ToFt)-max(*d.FromFt, t.FromFt))
			}
		}
	}
	return out
}

// latestWithDefects is the latest inspection on which feet or defects were
// noted, or nil.
func latestWithDefects(ctx context.Context, db bun.IDB, jointID int64, upTo inventory.Date) (*Inspection, error) {
	all, err := Inspections(ctx, db, jointID)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if !upTo.Before(all[i].InspectedOn) && (len(all[i].Feet) > 0 || len(all[i].Defects) > 0) {
			return &all[i], nil
		}
	}
	return nil, nil
}
