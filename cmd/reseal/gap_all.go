package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/geo/geojson"
	"reseal/inventory/store"
)

// gapItem is one joint on the list.
type gapItem struct {
	gap   condition.Gap
	check opening.Check
}

// gapAll lists the joints that need attention, worst first.
func gapAll(c *cli.Context, w world) error {
	if c.Bool("seal") || c.IsSet("at-temp") {
		return usagef("--seal and --at-temp are for one joint")
	}
	if f := c.String("format"); !slices.Contains([]string{"table", "csv", "json", "geojson"}, f) {
		return usagef("--format is table, csv, json or geojson, not %q", f)
	}
	return gapping(c, w, func(s *store.Store, r *condition.GapRules, o condition.GapOptions) error {
		p := startProgress(w.err, "joints", 0)
		o.Counted = func(n int) { p.add(int64(n)) }
		var items []gapItem
		checked, noReading, noLimits, others := 0, 0, 0, 0
		err := condition.EachGap(c.Context, s.Read(), r, o, func(g *condition.Gap, check *opening.Check) error {
			switch {
			case !check.Findings.Has(opening.NotChecked):
				checked++
			case len(g.Readings) == 0:
				noReading++
			default:
				others++
			}
			if check.Findings.Has(opening.NoLimits) {
				noLimits++
			}
			attention := check.Findings.NeedsAttention() && !check.Findings.Has(opening.NotChecked)
			if attention || c.Bool("fine") {
				items = append(items, gapItem{*g, *check})
			}
			return nil
		})
		p.end()
		if err != nil {
			return err
		}
		slices.SortStableFunc(items, func(a, b gapItem) int { return opening.Compare(&a.check, &b.check) })
		found := len(items)
		if n := c.Int("limit"); n > 0 && n < found {
			items = items[:n]
		}
		if c.String("format") == "geojson" {
			err = gapFeatures(w, items)
		} else {
			err = gapRows(c, w, items)
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(w.err, "%d listed of %d checked; %d have no gap reading with a temperature, %d more cannot be checked; of those checked %d have a seal without known limits\n",
			len(items), checked, noReading, others, noLimits)
		if len(items) < found {
			fmt.Fprintf(w.err, "%d more were found; see --limit\n", found-len(items))
		}
		fmt.Fprintln(w.err, "No line here is a judgement of safety: that is for a licensed engineer.")
		return nil
	})
}

func gapRows(c *cli.Context, w world, items []gapItem) error {
	out, err := newRows(c, w.out,
		column{name: "tag", heading: "joint"}, column{name: "label"}, column{name: "structure_number", heading: "bridge", shrink: true},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "mile"}, column{name: "district"}, column{name: "place"},
		column{name: "seal", heading: "seal", shrink: true}, column{name: "min_open_in"}, column{name: "max_open_in"},
		column{name: "cold_margin_in", heading: "spare cold, in"}, column{name: "hot_margin_in", heading: "spare hot, in"},
		column{name: "out_probability", heading: "out %"}, column{name: "cold_out_probability"}, column{name: "hot_out_probability"},
		column{name: "stuck_probability"}, column{name: "drift_probability"}, column{name: "drift_in_per_year"}, column{name: "racking_in"},
		column{name: "readings", heading: "read"}, column{name: "findings", heading: "what is the matter", shrink: true},
		column{name: "verdict"}, column{name: "assumed"}, column{name: "not_checked"})
	if err != nil {
		return err
	}
	for i := range items {
		if err := out.add(items[i].values(out)...); err != nil {
			return err
		}
	}
	return out.close()
}

func (i *gapItem) values(out *rows) []any {
	g, k := &i.gap, &i.check
	unless := func(not bool, v any) any {
		if not {
			return nil
		}
		return v
	}
	unknown, unchecked := !g.Limits.Known() || k.Findings.Has(opening.NotChecked), k.Findings.Has(opening.NotChecked)
	words := strings.Join(condition.FindingWords(k.Findings), ", ")
	if unchecked {
		words = "not checked: " + g.Problem
	}
	return []any{
		g.Tag, g.Label, g.Bridge.StructureNumber, g.Bridge.Route, g.Bridge.Milepost, g.Bridge.District, g.Place, g.Seal(),
		unless(!g.Limits.Known(), g.Limits.MinIn), unless(!g.Limits.Known(), g.Limits.MaxIn),
		unless(unknown, inches(k.Cold.MeanIn)), unless(unknown, inches(k.Hot.MeanIn)),
		unless(unknown, percent(out, k.ProbOut)), unless(unknown, percent(out, k.Cold.ProbNegative)), unless(unknown, percent(out, k.Hot.ProbNegative)),
		unless(unchecked, part(k.StuckWeight)), unless(unchecked, part(k.DriftWeight)), unless(unchecked, part(k.DriftInPerYr)), unless(unchecked, inches(k.RackingIn)),
		len(g.Readings), words, unless(unchecked, k.Words()), strings.Join(g.Assumed, "; "), g.Problem,
	}
}

func gapFeatures(w world, items []gapItem) error {
	out := geojson.NewWriter(w.out, geojson.Options{})
	for i := range items {
		g, k := &items[i].gap, &items[i].check
		out.Begin(g.ID, g.Geom.Geometry)
		for _, p := range [][2]string{
			{"tag", g.Tag},
			{"label", g.Label},
			{"structure_number", g.Bridge.StructureNumber},
			{"route", g.Bridge.Route},
			{"district", g.Bridge.District},
			{"place", g.Place},
			{"seal", g.Seal()},
			{"findings", strings.Join(condition.FindingWords(k.Findings), ", ")},
		} {
			out.Str(p[0], p[1])
		}
		if g.Problem != "" {
			out.Str("not_checked", g.Problem)
		} else {
			out.Str("verdict", k.Words())
			if g.Limits.Known() {
				out.Float("cold_margin_in", inches(k.Cold.MeanIn))
				out.Float("hot_margin_in", inches(k.Hot.MeanIn))
				out.Float("out_probability", part(k.ProbOut))
			}
			out.Float("stuck_probability", part(k.StuckWeight))
			out.Float("drift_probability", part(k.DriftWeight))
		}
		out.Int("readings", int64(len(g.Readings)))
		if err := out.End(); err != nil {
			return err
		}
	}
	return out.Close()
}
