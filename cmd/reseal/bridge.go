package main

import (
	"fmt"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

var bridgeHelp = map[string]string{
	"bearing_deg": "direction of increasing milepost, degrees clockwise from north",
	"climate":     "moderate or cold (AASHTO LRFD 3.12.2.1)",
	"deicing":     "none, light, moderate or heavy",
	"skew_deg":    "degrees from the line square to the roadway",
	"access":      "what an inspection needs to get there",
}

func bridgeCommand(w world) *cli.Command {
	fields := append(fieldFlags(bridgeHelp, inventory.BridgeColumns()...), &cli.StringFlag{Name: "at", Usage: "the bridge's place, `LON,LAT`"})
	return &cli.Command{
		Name:  "bridge",
		Usage: "list, show and change bridges",
		Subcommands: append([]*cli.Command{
			{
				Name: "list", Usage: "list bridges",
				Description: "example: reseal bridge list --route \"I 5\" --milepost 100-120",
				Flags:       append(filterFlags(), formatFlag),
				Action:      func(c *cli.Context) error { return bridgeList(c, w) },
			},
			{
				Name: "show", Usage: "show all that is on record of a bridge", ArgsUsage: "NUMBER",
				Description: "A number that several states have is written STATE/NUMBER.\n\nexample: reseal bridge show 41/00576A",
				Flags:       []cli.Flag{cardFlag},
				Action:      func(c *cli.Context) error { return bridgeShow(c, w) },
			},
			{
				Name: "add", Usage: "put a bridge on record", ArgsUsage: "STATE/NUMBER",
				Description: "example: reseal bridge add 41/00576A --route \"I 5\" --milepost 12.4 --at -122.67,45.52",
				Flags:       append([]cli.Flag{dryRunFlag}, fields...),
				Action:      func(c *cli.Context) error { return bridgeAdd(c, w) },
			},
			{
				Name: "edit", Usage: "change what is on record of a bridge", ArgsUsage: "NUMBER",
				Description: "An empty value clears a field; history keeps what was there.\n\nexample: reseal bridge edit 00576A --curb-width-ft 44 --deicing heavy",
				Flags:       append([]cli.Flag{dryRunFlag}, fields...),
				Action:      func(c *cli.Context) error { return bridgeEdit(c, w) },
			},
			{
				Name: "retire", Usage: "take a bridge and its joints out of service", ArgsUsage: "NUMBER",
				Description: "Nothing is deleted. Joints shared with a bridge in service stay.\n\nexample: reseal bridge retire 00576A --on 2026-10-01",
				Flags:       []cli.Flag{dryRunFlag, onFlag},
				Action:      func(c *cli.Context) error { return bridgeRetire(c, w) },
			},
			{
				Name: "history", Usage: "who changed what of a bridge, and when", ArgsUsage: "NUMBER",
				Description: "example: reseal bridge history 00576A",
				Flags:       []cli.Flag{formatFlag},
				Action: func(c *cli.Context) error {
					return history(c, w, "bridges", "a structure number", func(s *store.Store, ref string) (int64, error) {
						b, err := inventory.FindBridge(c.Context, s.Read(), ref)
						if err != nil {
							return 0, err
						}
						return b.ID, nil
					})
				},
			},
		}, bridgeProjects(w)...),
	}
}

func bridgeList(c *cli.Context, w world) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out,
		column{name: "state", heading: "state"}, column{name: "structure_number", heading: "bridge"},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "mile"},
		column{name: "facility_carried", heading: "carries", shrink: true}, column{name: "feature_intersected", heading: "over", shrink: true},
		column{name: "district", heading: "dist."}, column{name: "year_built", heading: "built"},
		column{name: "length_ft", heading: "feet"}, column{name: "spans", heading: "spans"},
		column{name: "county"}, column{name: "owner"}, column{name: "material"}, column{name: "status"})
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		err := inventory.EachBridge(c.Context, s.Read(), f, func(b *inventory.Bridge) error {
			return out.add(b.State, b.StructureNumber, b.Route, b.Milepost, b.FacilityCarried, b.FeatureIntersected,
				b.District, year(b.YearBuilt), b.LengthFt, known(float64(b.Spans())), b.County, b.Owner, b.Material, b.Status)
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
		return show(c, w, b, func(p *card) { p.bridge(b) })
	})
}

func bridgeAdd(c *cli.Context, w world) error {
	ref, err := oneArg(c, "STATE/NUMBER")
	if err != nil {
		return err
	}
	b := &inventory.Bridge{Source: "entered"}
	if b.State, b.StructureNumber = inventory.SplitStructure(ref); b.State == "" {
		return usagef("write the bridge as STATE/NUMBER, for example 41/%s", ref)
	}
	if _, err := bridgeFields(c, b); err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error { return inventory.AddBridge(c.Context, tx, b) })
	return done(c, w, err, "bridge %s/%s is on record", b.State, b.StructureNumber)
}

func bridgeEdit(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a structure number")
	if err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		b, err := inventory.FindBridge(c.Context, tx, ref)
		if err != nil {
			return err
		}
		if n, err := bridgeFields(c, b); err != nil || n == 0 {
			return orUsage(err, "say what to change, for example --curb-width-ft 44")
		}
		return inventory.SaveBridge(c.Context, tx, b)
	})
	return done(c, w, err, "bridge %s is changed", ref)
}

func bridgeFields(c *cli.Context, b *inventory.Bridge) (int, error) {
	n, err := setFields(c, b, inventory.BridgeColumns()...)
	if err != nil || !c.IsSet("at") {
		return n, err
	}
	at, err := numbers(c.String("at"), 2)
	if err != nil {
		return n, usagef("--at is LON,LAT in degrees, not %q", c.String("at"))
	}
	b.Geom, b.PositionProblem = geo.Geometry{Geometry: orb.Point{at[0], at[1]}}, ""
	return n + 1, nil
}

func bridgeRetire(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a structure number")
	if err != nil {
		return err
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		b, err := inventory.FindBridge(c.Context, tx, ref)
		if err != nil {
			return err
		}
		return inventory.RetireBridge(c.Context, tx, b, on)
	})
	return done(c, w, err, "bridge %s and its joints are retired as of %s", ref, on)
}

// year shows no year as nothing.
func year(y int) any {
	if y == 0 {
		return nil
	}
	return fmt.Sprint(y)
}
