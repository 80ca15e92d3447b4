package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/forecast/money"
	"reseal/inventory"
	"reseal/inventory/store"
)

// asBuiltSealColumns are what people may set of the seal that went in.
var asBuiltSealColumns = []string{"kind", "size", "min_open_in", "max_open_in", "header", "product", "lot", "recess_in", "warranty_until"}

func recordCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "record", Usage: "take a crew's as-built readings back in as a new seal", ArgsUsage: "JOINT",
		Description: `Ends the life of the seal in place and begins that of the new one, with the work
and the openings read at its installation. A gap is PLACE=INCHES@DECK°F.

With --csv: the as-built rows of many joints; --csv-template prints an empty table.

example: reseal record J000123 --seal "strip seal, 4 in" --on 2026-09-12 --gap "left curb=1.75@61" --gap "crown=1.8@61" --gap "right curb=1.7@62" --cost 9400
example: reseal record --csv as-built.csv --dry-run`,
		Flags: append([]cli.Flag{
			dryRunFlag, onFlag,
			&cli.StringFlag{Name: "seal", Usage: "the `SEAL` as the catalogue has it, with its limits; or give --kind and --size"},
			&cli.StringSliceFlag{Name: "gap", Usage: "an `OPENING`, for example \"left curb=1.75@61\"; may be repeated"},
			&cli.BoolFlag{Name: "along-traffic", Usage: "the gaps were measured along traffic"},
			&cli.IntFlag{Name: "stretch", Usage: "the `NUMBER` of the stretch that got it; all if not given"},
			&cli.StringFlag{Name: "treatment", Value: "reseal", Usage: "`WHAT` was done"},
			&cli.StringFlag{Name: "cost", Usage: "what it cost, `DOLLARS`"},
			&cli.StringFlag{Name: "by-whom", Usage: "in-house or contract"},
			&cli.StringFlag{Name: "contract", Usage: "the `NUMBER` of the contract"},
			&cli.StringFlag{Name: "why", Value: "worn", Usage: "`WHY` the old seal came out"},
			&cli.StringFlag{Name: "notes", Usage: "what else is to be known"},
			&cli.BoolFlag{Name: "accept-odd", Usage: "keep what is odd, with a mark: you measured again"},
			&cli.StringFlag{Name: "csv", Usage: "read as-built rows from `FILE`"},
			&cli.BoolFlag{Name: "csv-template", Usage: "print an empty table of as-built rows"},
		}, fieldFlags(map[string]string{
			"kind": "the kind of seal", "min_open_in": "smallest opening it works at", "max_open_in": "largest opening it works at",
			"recess_in": "depth of its top below the riding surface", "warranty_until": "last day of the warranty (YYYY-MM-DD)",
		}, asBuiltSealColumns...)...),
		Action: func(c *cli.Context) error {
			switch {
			case c.Bool("csv-template"):
				return asBuiltTemplate(w)
			case c.String("csv") != "":
				if c.Args().Present() {
					return usagef("with --csv the joints are named in the file")
				}
				return recordFile(c, w)
			}
			return recordJoint(c, w)
		},
	}
}

func recordJoint(c *cli.Context, w world) error {
	ref, err := oneArg(c, "a joint's tag or label")
	if err != nil {
		return err
	}
	a := &condition.AsBuilt{
		Stretch: c.Int("stretch"), Treatment: c.String("treatment"), ByWhom: c.String("by-whom"), Contract: c.String("contract"),
		Why: c.String("why"), Notes: c.String("notes"),
	}
	if a.On, err = onDay(c, w); err != nil {
		return err
	}
	if _, err := setFields(c, &a.Seal, asBuiltSealColumns...); err != nil {
		return err
	}
	if s := c.String("cost"); s != "" {
		cents, err := money.Parse(s)
		if err != nil || cents < 0 {
			return usagef("--cost is dollars, for example 9400, not %q", s)
		}
		a.CostCents = &cents
	}
	for _, text := range c.StringSlice("gap") {
		m, err := parseGap(text)
		if err != nil {
			return err
		}
		m.AlongTraffic = c.Bool("along-traffic")
		a.Readings = append(a.Readings, m)
	}
	today := inventory.DateOf(w.now())
	return changing(c, w, func(tx *store.Tx) error {
		j, err := inventory.FindJoint(c.Context, tx, ref)
		if err != nil {
			return err
		}
		if err := condition.NameSeal(c.Context, tx, &a.Seal, c.String("seal")); err != nil {
			return err
		}
		odd, err := a.Record(c.Context, tx, j, c.Bool("accept-odd"), today)
		if err != nil {
			return err
		}
		for _, mark := range odd {
			fmt.Fprintln(w.err, "kept with a mark:", mark)
		}
		if err := done(c, w, nil, "joint %s: a new %s of %s is on record", j.Tag, sealWords(&a.Seal), a.On); err != nil {
			return err
		}
		return sayVerdict(c, w, tx, j, today)
	})
}

func sealWords(s *inventory.Seal) string {
	if s.Size == "" {
		return s.Kind
	}
	return s.Kind + ", " + s.Size
}

// parseGap reads PLACE=INCHES@DECK°F; the place may be left out.
func parseGap(text string) (m condition.FieldReading, err error) {
	bad := usagef("--gap is PLACE=INCHES@DECK°F, for example \"left curb=1.75@61\", not %q", text)
	place, value, named := strings.Cut(text, "=")
	if !named {
		place, value = "", text
	}
	gap, temp, ok := strings.Cut(value, "@")
	if !ok {
		return m, bad
	}
	var err1, err2 error
	m.Gap, err1 = strconv.ParseFloat(strings.TrimSpace(gap), 64)
	f, err2 := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(strings.TrimSpace(temp), "F"), "°"), 64)
	if err1 != nil || err2 != nil {
		return m, bad
	}
	m.Position, m.DeckTempF = strings.TrimSpace(place), &f
	return m, nil
}

// places are where a crew reads the opening, as the sheet has them.
var places = []string{"left curb", "crown", "right curb"}
