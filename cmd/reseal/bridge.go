package main

import (
	"encoding/json"

	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

func bridgeCommand(w world) *cli.Command {
	return &cli.Command{
		Name:  "bridge",
		Usage: "list, show and change bridges",
		Subcommands: []*cli.Command{
			{
				Name: "list", Usage: "list bridges",
				Description: "example: reseal bridge list --route \"I 5\" --milepost 100-120",
				Flags:       append(filterFlags(), formatFlag),
				Action:      func(c *cli.Context) error { return bridgeList(c, w) },
			},
			{
				Name: "show", Usage: "show all that is on record of a bridge", ArgsUsage: "NUMBER",
				Description: "A number that several states have is written STATE/NUMBER.\n\nexample: reseal bridge show 41/00576A",
				Action:      func(c *cli.Context) error { return bridgeShow(c, w) },
			},
		},
	}
}

// reading opens the inventory, runs fn and closes it.
func reading(c *cli.Context, w world, fn func(*store.Store) error) error {
	s, err := openStore(c, w, false)
	if err != nil {
		return err
	}
	defer s.Close()
	return fn(s)
}

func bridgeList(c *cli.Context, w world) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out,
		column{name: "state", heading: "state"}, column{name: "structure_number", heading: "bridge", shrink: true},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "milepost"},
		column{name: "facility_carried", heading: "carries", shrink: true}, column{name: "feature_intersected", heading: "over", shrink: true},
		column{name: "district", heading: "dist."}, column{name: "year_built", heading: "built"},
		column{name: "length_ft", heading: "length ft"}, column{name: "spans", heading: "spans"},
		column{name: "county"}, column{name: "owner"}, column{name: "material"}, column{name: "status"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		err := inventory.EachBridge(c.Context, s.Read(), f, func(b *inventory.Bridge) error {
			return out.add(b.State, b.StructureNumber, b.Route, b.Milepost, b.FacilityCarried, b.FeatureIntersected,
				b.District, b.YearBuilt, b.LengthFt, b.Spans(), b.County, b.Owner, b.Material, b.Status)
		})
		if err != nil {
			return err
		}
		return out.close()
	})
}

func bridgeShow(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a structure number")
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		b, err := inventory.FindBridge(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		e := json.NewEncoder(w.out)
		e.SetIndent("", "  ")
		return e.Encode(b)
	})
}

// oneArg returns the command's only argument.
func oneArg(c *cli.Context, what string) (string, error) {
	if c.Args().Len() != 1 {
		return "", usagef("give %s, and nothing else", what)
	}
	return c.Args().First(), nil
}
