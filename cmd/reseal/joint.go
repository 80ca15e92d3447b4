package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/uptrace/bun"
	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// jointColumns are what people may set of a joint.
var jointColumns = []string{
	"label", "place", "movement", "sequence", "station_ft", "length_ft", "skew_deg", "expansion_length_ft",
	"expansion_assumed", "below", "lanes", "direction", "sidewalk_ft", "upturn_ft", "notes",
}

var jointHelp = map[string]string{
	"place":               "abutment, pier, hinge, approach slab end, pavement relief, longitudinal or unknown",
	"movement":            "expansion, fixed or unknown",
	"sequence":            "order along the bridge with increasing milepost, from 1",
	"station_ft":          "distance along the bridge from its beginning",
	"length_ft":           "length along the joint, curb to curb",
	"skew_deg":            "degrees from the line square to the roadway",
	"expansion_length_ft": "length of deck that moves at this joint",
}

func jointCommand(w world) *cli.Command {
	fields := append(fieldFlags(jointHelp, jointColumns...),
		&cli.StringFlag{Name: "second-bridge", Usage: "the `NUMBER` of the other bridge that shares the joint; counted and paid for once"})
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
			{
				Name: "show", Usage: "show all that is on record of a joint", ArgsUsage: "JOINT",
				Description: "A joint is named by its tag, or by the agency's label.\n\nexample: reseal joint show J000123\nexample: reseal joint show J000123 --format json",
				Flags:       []cli.Flag{cardFlag},
				Action:      func(c *cli.Context) error { return jointShow(c, w) },
			},
			{
				Name: "add", Usage: "put a joint on record", ArgsUsage: "BRIDGE",
				Description: "example: reseal joint add 00576A --place abutment --length-ft 46 --kind \"strip seal\" --installed 2019-06-01",
				Flags: append([]cli.Flag{
					dryRunFlag,
					&cli.StringFlag{Name: "kind", Usage: "the `KIND` of seal in it"},
					&cli.StringFlag{Name: "installed", Usage: "the `DAY` its seal went in (YYYY-MM-DD)"},
				}, fields...),
				Action: func(c *cli.Context) error { return jointAdd(c, w) },
			},
			{
				Name: "edit", Usage: "change what is on record of a joint", ArgsUsage: "JOINT",
				Description: "An empty value clears a field; history keeps what was there.\n\nexample: reseal joint edit J000123 --length-ft 48",
				Flags:       append([]cli.Flag{dryRunFlag}, fields...),
				Action:      func(c *cli.Context) error { return jointEdit(c, w) },
			},
			{
				Name: "retire", Usage: "take a joint out of service", ArgsUsage: "JOINT",
				Description: "Its history stays. --eliminated says that the deck was made continuous there.\n\nexample: reseal joint retire J000123 --eliminated --on 2026-09-12",
				Flags:       []cli.Flag{dryRunFlag, onFlag, &cli.BoolFlag{Name: "eliminated", Usage: "the deck was made continuous"}},
				Action:      func(c *cli.Context) error { return jointRetire(c, w) },
			},
			{
				Name: "propose", Usage: "derive likely joints from bridge records",
				Description: "For bridges without joints of their own. Proposed joints count for nothing until\nsomebody confirms them: reseal joint confirm.\n\nexample: reseal joint propose --district 03",
				Flags:       append([]cli.Flag{dryRunFlag}, filterFlags()...),
				Action:      func(c *cli.Context) error { return jointPropose(c, w) },
			},
			decideCommand(w, "confirm", true),
			decideCommand(w, "reject", false),
			{
				Name: "split", Usage: "propose real joints for a bridge's quantity", ArgsUsage: "JOINT NUMBER",
				Description: "For a joint that is known only as feet for the whole bridge. Confirm the proposed\njoints to put them in its place; its history stays.\n\nexample: reseal joint split J000123 4",
				Flags:       []cli.Flag{dryRunFlag},
				Action:      func(c *cli.Context) error { return jointSplit(c, w) },
			},
			{
				Name: "recode", Usage: "settle a joint that came in under another element number", ArgsUsage: "JOINT recoding|new-seal",
				Description: "A recoding is the same seal under another number; a new seal begins a life, on the\nday given with --on.\n\nexample: reseal joint recode J000123 recoding\nexample: reseal joint recode J000123 new-seal --on 2018-09-01",
				Flags:       []cli.Flag{dryRunFlag, onFlag},
				Action:      func(c *cli.Context) error { return jointRecode(c, w) },
			},
			{
				Name: "history", Usage: "who changed what of a joint, and when", ArgsUsage: "JOINT",
				Description: "example: reseal joint history J000123",
				Flags:       []cli.Flag{formatFlag},
				Action: func(c *cli.Context) error {
					return history(c, w, "joints", "a joint's tag or label", func(s *store.Store, ref string) (int64, error) {
						j, err := inventory.FindJoint(c.Context, s.Read(), ref)
						if err != nil {
							return 0, err
						}
						return j.ID, nil
					})
				},
			},
		},
	}
}

func decideCommand(w world, verb string, confirm bool) *cli.Command {
	return &cli.Command{
		Name: verb, Usage: verb + " proposed joints", ArgsUsage: "[JOINT…]",
		Description: fmt.Sprintf("Names joints, or chooses proposed ones in bulk by filters.\n\nexample: reseal joint %s J000123 J000124\nexample: reseal joint %s --bridge 00576A", verb, verb),
		Flags:       append([]cli.Flag{dryRunFlag, onFlag, &cli.BoolFlag{Name: "all", Usage: "every proposed joint that the filters choose"}}, filterFlags()...),
		Action:      func(c *cli.Context) error { return jointDecide(c, w, verb, confirm) },
	}
}

func jointList(c *cli.Context, w world) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	out, err := newRows(c, w.out,
		column{name: "tag", heading: "joint"}, column{name: "structure_number", heading: "bridge"},
		column{name: "route", heading: "route", shrink: true}, column{name: "milepost", heading: "mile"},
		column{name: "place", heading: "place", shrink: true}, column{name: "seal_kind", heading: "seal", shrink: true},
		column{name: "length_ft", heading: "feet"}, column{name: "installed_on"},
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

func jointAdd(c *cli.Context, w world) error {
	ref, err := oneArg(c, "the bridge's structure number")
	if err != nil {
		return err
	}
	installed, err := inventory.ParseDate(c.String("installed"))
	if err != nil {
		return usagef("--installed: %w", err)
	}
	if today := inventory.DateOf(w.now()); today.Before(installed) {
		return usagef("--installed: %s is a day to come", installed)
	}
	j := &inventory.Joint{}
	err = changing(c, w, func(tx *store.Tx) error {
		b, err := inventory.FindBridge(c.Context, tx, ref)
		if err != nil {
			return err
		}
		if _, err := jointFields(c, tx, j); err != nil {
			return err
		}
		j.BridgeID = b.ID
		j.Draw(b)
		kind, err := sealKind(c.Context, tx, c.String("kind"))
		if err != nil {
			return err
		}
		return inventory.AddJoint(c.Context, tx, j, inventory.Seal{Kind: kind, InstalledOn: installed})
	})
	return done(c, w, err, "joint %s is on record at bridge %s", j.Tag, ref)
}

// sealKind is the agency's spelling of a kind of seal; blank stays blank.
func sealKind(ctx context.Context, db bun.IDB, text string) (string, error) {
	if text == "" {
		return "", nil
	}
	kinds, err := inventory.SealKinds(ctx, db)
	if err != nil {
		return "", err
	}
	for _, kind := range kinds {
		if strings.EqualFold(kind, text) {
			return kind, nil
		}
	}
	return "", store.Invalid("it is one of: "+strings.Join(kinds, ", "), "there is no kind of seal %q", text)
}

func jointEdit(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint's tag or label")
	if err != nil {
		return err
	}
	err = changing(c, w, func(tx *store.Tx) error {
		j, b, err := jointAndBridge(c, tx, ref)
		if err != nil {
			return err
		}
		if n, err := jointFields(c, tx, j); err != nil || n == 0 {
			return orUsage(err, "say what to change, for example --length-ft 48")
		}
		j.Draw(b)
		return inventory.SaveJoint(c.Context, tx, j)
	})
	return done(c, w, err, "joint %s is changed", ref)
}

// jointFields puts what the flags give into the joint.
func jointFields(c *cli.Context, tx *store.Tx, j *inventory.Joint) (int, error) {
	n, err := setFields(c, j, jointColumns...)
	if err != nil || !c.IsSet("second-bridge") {
		return n, err
	}
	j.SecondBridgeID = 0
	if ref := c.String("second-bridge"); ref != "" {
		b, err := inventory.FindBridge(c.Context, tx, ref)
		if err != nil {
			return n, err
		}
		j.SecondBridgeID = b.ID
	}
	return n + 1, nil
}

func jointAndBridge(c *cli.Context, tx *store.Tx, ref string) (*inventory.Joint, *inventory.Bridge, error) {
	j, err := inventory.FindJoint(c.Context, tx, ref)
	if err != nil {
		return nil, nil, err
	}
	b, err := inventory.BridgeByID(c.Context, tx, j.BridgeID)
	return j, b, err
}

func jointRetire(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint's tag or label")
	if err != nil {
		return err
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	status := inventory.Retired
	if c.Bool("eliminated") {
		status = inventory.Eliminated
	}
	err = changing(c, w, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(c.Context, tx, ref)
		if err != nil {
			return err
		}
		j.Status, j.StatusOn = status, on
		return inventory.SaveJoint(c.Context, tx, j)
	})
	return done(c, w, err, "joint %s is %s as of %s", ref, status, on)
}

func jointPropose(c *cli.Context, w world) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	var joints, bridges int
	err = changing(c, w, func(tx *store.Tx) error {
		joints, bridges, err = inventory.ProposeAll(c.Context, tx, f)
		return err
	})
	return done(c, w, err, "proposed %d joints on %d bridges; none counts until it is confirmed\nnext: reseal joint list --status proposed, then reseal joint confirm", joints, bridges)
}

func jointDecide(c *cli.Context, w world, verb string, confirm bool) error {
	f, err := filterFrom(c)
	if err != nil {
		return err
	}
	chosen := f
	chosen.Sort, chosen.Status = "", ""
	if c.Args().Len() == 0 && chosen == (inventory.Filter{WithinFt: f.WithinFt}) && !c.Bool("all") {
		return usagef("name the joints, choose them by a filter, or say --all")
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	n := 0
	err = changing(c, w, func(tx *store.Tx) error {
		tags := c.Args().Slice()
		if len(tags) == 0 {
			f.Status = inventory.Proposed
			if err := inventory.EachJoint(c.Context, tx, f, func(j *inventory.JointRow) error {
				tags = append(tags, j.Tag)
				return nil
			}); err != nil {
				return err
			}
		}
		for _, tag := range tags {
			j, err := inventory.FindJoint(c.Context, tx, tag)
			if err != nil {
				return err
			}
			if err := inventory.Decide(c.Context, tx, j, confirm, on); err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return done(c, w, err, "%sed %d proposed joints", verb, n)
}

func jointSplit(c *cli.Context, w world) error {
	if c.Args().Len() != 2 {
		return usagef("give a joint and the number of joints that it really is")
	}
	var n int
	if _, err := fmt.Sscan(c.Args().Get(1), &n); err != nil {
		return usagef("%q is not a number of joints", c.Args().Get(1))
	}
	var tags string
	err := changing(c, w, func(tx *store.Tx) error {
		q, b, err := jointAndBridge(c, tx, c.Args().First())
		if err != nil {
			return err
		}
		joints, err := inventory.SplitQuantity(c.Context, tx, q, b, n)
		for _, j := range joints {
			tags += " " + j.Tag
		}
		return err
	})
	return done(c, w, err, "proposed%s; next: reseal joint confirm%s", tags, tags)
}

func jointRecode(c *cli.Context, w world) error {
	decision := map[string]string{"recoding": condition.Recoding, "new-seal": condition.NewSeal}[c.Args().Get(1)]
	if c.Args().Len() != 2 || decision == "" {
		return usagef("give a joint, and recoding or new-seal")
	}
	if decision == condition.NewSeal && c.String("on") == "" {
		return usagef("say with --on when the new seal went in; the year's end if no more is known")
	}
	on, err := onDay(c, w)
	if err != nil {
		return err
	}
	ref := c.Args().First()
	err = changing(c, w, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(c.Context, tx, ref)
		if err != nil {
			return err
		}
		return condition.Recode(c.Context, tx, j, decision, on)
	})
	return done(c, w, err, "joint %s: the new element number is a %s", ref, decision)
}

func jointShow(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint's tag or label")
	if err != nil {
		return err
	}
	return reading(c, w, func(s *store.Store) error {
		record, err := jointRecord(c.Context, s, ref)
		if err != nil {
			return err
		}
		return show(c, w, record, record.print)
	})
}
