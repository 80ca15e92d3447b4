package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
)

var cardFlag = &cli.StringFlag{Name: "format", Value: "text", Usage: "`HOW` to print: text or json"}

// show prints what is on record of one thing: as JSON, or for people as print
// writes it.
func show(c *cli.Context, w world, record any, print func(*card)) error {
	switch c.String("format") {
	case "json":
		e := json.NewEncoder(w.out)
		e.SetIndent("", "  ")
		return e.Encode(record)
	case "text":
		p := &card{bufio.NewWriter(w.out)}
		print(p)
		return p.Flush()
	}
	return usagef("--format is text or json, not %q", c.String("format"))
}

// card writes headings and lines of what is known; what is not known is left
// out.
type card struct{ *bufio.Writer }

func (p *card) heading(format string, args ...any) {
	fmt.Fprintf(p, format+"\n", args...)
}

// line writes pairs of a name and a value that are known.
func (p *card) line(pairs ...any) { p.known("  ", pairs) }

// more goes on about the line above.
func (p *card) more(pairs ...any) { p.known("    ", pairs) }

func (p *card) known(indent string, pairs []any) {
	var known []string
	for i := 0; i+1 < len(pairs); i += 2 {
		v := pretty(pairs[i+1])
		if v == "-" || v == "0" {
			continue
		}
		known = append(known, fmt.Sprintf("%s %s", pairs[i], v))
	}
	if len(known) > 0 {
		fmt.Fprintln(p, indent+strings.Join(known, ", "))
	}
}

func (p *card) bridge(b *inventory.Bridge) {
	p.heading("Bridge %s/%s, %s", b.State, b.StructureNumber, b.Status)
	p.line("carries", b.FacilityCarried, "over", b.FeatureIntersected, "name", b.Name)
	p.line("route", b.Route, "milepost", b.Milepost, "district", b.District, "county", b.County, "owner", b.Owner)
	if at, ok := b.Geom.Geometry.(orb.Point); ok {
		fmt.Fprintf(p, "  at longitude %.6f, latitude %.6f (WGS 84)\n", at[0], at[1])
	}
	p.line("no place:", b.PositionProblem)
	p.line("built", year(b.YearBuilt), "reconstructed", year(b.YearReconstructed), "length ft", b.LengthFt, "spans", b.Spans(), "skew °", b.SkewDeg)
	p.line("curb to curb ft", b.CurbWidthFt, "out to out ft", b.OutWidthFt, "lanes", b.Lanes)
	p.line("material", b.Material, "design", b.Design, "continuous", b.Continuous)
	p.line("vehicles a day", b.ADT, "in", year(b.ADTYear), "trucks %", b.TruckPct, "detour mi", b.DetourMi)
	p.line("climate", b.Climate, "deicing", b.Deicing, "deck °F from", b.DeckTempMinF, "to", b.DeckTempMaxF)
	p.line("ratings: deck", b.DeckRating, "superstructure", b.SuperstructureRating, "substructure", b.SubstructureRating, "joints", b.JointsRating)
	p.line("inspected", b.LastInspection, "months between inspections", b.InspectionMonths, "access", b.Access)
	p.line("notes", b.Notes)
}

// printRecord writes a joint for people: where it is, its seals, its condition and
// what was done and seen.
func printRecord(p *card, r *condition.JointRecord) {
	j := r.Joint
	p.heading("Joint %s%s, %s", j.Tag, suffix(" ", j.Label), j.Status)
	p.line("place", j.Place, "movement", j.Movement, "number along the bridge", j.Sequence, "station ft", j.StationFt)
	p.line("length ft", j.LengthFt, "skew °", j.SkewDeg, assumedName("expansion length ft", j.ExpansionAssumed), j.ExpansionLengthFt)
	p.line("lanes", j.Lanes, "direction", j.Direction, "below", j.Below, "known as", j.Scope, "origin", j.Origin, "line", j.GeometrySource)
	p.line("notes", j.Notes)
	p.bridge(r.Bridge)
	for i := range r.Stretches {
		t := &r.Stretches[i]
		p.heading("Stretch %d, %s to %s ft%s", i+1, pretty(t.FromFt), pretty(t.ToFt), suffix(", stage ", t.Stage))
		for _, s := range t.Seals {
			p.line("seal", s.Kind, "size", s.Size, "installed", s.InstalledOn, "by", s.InstalledBy,
				"warranty until", s.WarrantyUntil, "removed", s.RemovedOn, "why", s.RemovedWhy)
			p.more("works at", span("", s.MinOpenIn, s.MaxOpenIn, "in"), "gap when installed in", s.InstalledGapIn,
				"at deck °F", s.InstalledDeckTempF, "header", s.Header)
		}
	}
	if len(r.Inspections) > 0 {
		p.heading("Inspections, the latest first (feet in CS1, CS2, CS3, CS4)")
	}
	for i := range r.Inspections {
		in := &r.Inspections[i]
		ft := in.StateFt()
		fmt.Fprintf(p, "  %s  no. %-6d", in.InspectedOn, in.ID)
		if in.Quick {
			fmt.Fprintf(p, "  worst state %s", condition.StateWord(in.QuickWorst))
		} else {
			fmt.Fprintf(p, " %7.4g %7.4g %7.4g %7.4g", ft[0], ft[1], ft[2], ft[3])
		}
		if in.DateKnown != condition.OnDay {
			fmt.Fprintf(p, "  day known: %s", in.DateKnown)
		}
		fmt.Fprintf(p, "%s%s\n", suffix("  by ", in.Inspector), suffix("  odd: ", in.Odd))
		for _, d := range in.Defects {
			fmt.Fprintf(p, "    defect %d in CS%d%s\n", d.Number, d.State, span(", ", d.FromFt, d.ToFt, "ft"))
		}
	}
	if len(r.Readings) > 0 {
		p.heading("Gap readings")
	}
	for _, g := range r.Readings {
		p.line("on", g.ReadOn, "gap in", g.GapIn, "deck °F", g.DeckTempF, "air °F", g.AirTempF, "at", g.Position)
	}
	printEvents(p, r)
}

func printEvents(p *card, r *condition.JointRecord) {
	if len(r.Work) > 0 {
		p.heading("Work done")
	}
	for _, k := range r.Work {
		var cost any
		if k.CostCents != nil {
			cost = cents(*k.CostCents)
		}
		fmt.Fprintf(p, "  on %s, %s%s\n", pretty(k.DoneOn), k.Treatment, span(", ", &k.FromFt, k.ToFt, "ft"))
		p.more("cost $", cost, "by", k.ByWhom)
	}
	if len(r.Findings) > 0 {
		p.heading("Findings")
	}
	for _, f := range r.Findings {
		p.line("no.", fmt.Sprintf("%d %s", f.ID, f.Kind), "found", f.FoundOn, "urgency", f.Urgency, "closed", f.ClosedOn, "action", f.Action)
	}
}

// span is "from to to unit" after before; nothing where it is not known.
func span(before string, from, to *float64, unit string) string {
	if from == nil || to == nil {
		return ""
	}
	return fmt.Sprintf("%s%s to %s %s", before, pretty(*from), pretty(*to), unit)
}

func assumedName(name string, yes bool) string {
	if yes {
		return "assumed " + name
	}
	return name
}

func suffix(before, s string) string {
	if s == "" {
		return ""
	}
	return before + strings.ReplaceAll(s, "\n", "; ")
}
