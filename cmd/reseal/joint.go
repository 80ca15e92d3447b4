package main

import (
	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

func jointCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "joint",
		Usage: "list, show and change joints",
		Subcommands: []*cli.Command{
			{
				Name: "list", Usage: "list joints with their latest condition",
				Description: "example: reseal joint list --kind \"strip seal\" --worst 3 --sort condition",
				Flags:       append(filterFlags(), formatFlag),
				Action:      func(c *cli.Context) error { return jointList(c, w) },
			},
		},
	}
}

func jointList(c *cli.Context, w world) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out,
		column{name: "tag", heading: "joint"}, column{name: "structure_number", heading: "bridge", shrink: true},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "milepost"},
		column{name: "place", heading: "place"}, column{name: "seal_kind", heading: "seal", shrink: true},
		column{name: "length_ft", heading: "length ft"}, column{name: "installed_on", heading: "installed"},
		column{name: "inspected_on", heading: "inspected"}, column{name: "worst_state", heading: "worst"},
		column{name: "cs1_ft"}, column{name: "cs2_ft"}, column{name: "cs3_ft"}, column{name: "cs4_ft"}, column{name: "not_seen_ft"},
		column{name: "label"}, column{name: "district"}, column{name: "scope"}, column{name: "status"}, column{name: "geometry_source"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		err := inventory.EachJoint(c.Context, s.Read(), f, func(j *inventory.JointRow) error {
			return out.add(j.Tag, j.StructureNumber, j.Route, j.Milepost, j.Place, j.SealKind, j.LengthFt, j.InstalledOn,
				j.InspectedOn, stateWord(j.WorstState), j.StateFt[0], j.StateFt[1], j.StateFt[2], j.StateFt[3], j.NotSeenFt,
				j.Label, j.District, j.Scope, j.Status, j.GeometrySource)
		})
		if err != nil {
			return err
		}
		return out.close()
	})
}

// stateWord names a condition state.
func stateWord(state int) string {
	if state < 1 || state > 4 {
		return ""
	}
	return []string{"CS1 good", "CS2 fair", "CS3 poor", "CS4 severe"}[state-1]
}
