package main

import (
	"fmt"
	"strconv"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

func gapAddCommand(w world) *cli.Command {
	return &cli.Command{
		Name: "add", Usage: "log a gap reading, and answer with the verdict", ArgsUsage: "JOINT GAP",
		Description: `The gap is the opening square to the joint in inches, of the whole joint, unless
a flag says otherwise; it is kept in inches and square to the joint, and the note
says what was read. Without a deck temperature give the air's: the answer is then
less sure.

Measure a gap from a closed lane only.

example: reseal gap add J000123 1.75 --deck-temp-f 61 --position "left curb"
example: reseal gap add J000123 44 --mm --deck-temp-c 16 --along-traffic`,
		Flags: []cli.Flag{
			dryRunFlag, onFlag,
			&cli.Float64Flag{Name: "deck-temp-f", Usage: "the `TEMPERATURE` of the deck, °F"},
			&cli.Float64Flag{Name: "deck-temp-c", Usage: "the `TEMPERATURE` of the deck, °C"},
			&cli.Float64Flag{Name: "air-temp-f", Usage: "the `TEMPERATURE` of the air, °F, if the deck's is not known"},
			&cli.Float64Flag{Name: "air-temp-c", Usage: "the `TEMPERATURE` of the air, °C, if the deck's is not known"},
			&cli.BoolFlag{Name: "mm", Usage: "the gap is in millimetres"},
			&cli.BoolFlag{Name: "along-traffic", Usage: "it was measured along traffic: converted by the skew"},
			&cli.IntFlag{Name: "cell", Usage: "one cell was measured of a modular joint with so many `CELLS`"},
			&cli.Float64Flag{Name: "beams-in", Usage: "it was measured over all of a modular joint whose centre beams are `INCHES` wide together"},
			&cli.StringFlag{Name: "position", Usage: "`WHERE` along the joint: left curb, lane 1, crown, right curb"},
			&cli.StringFlag{Name: "faces", Usage: "between `WHAT`: headers, armour, extrusions"},
			&cli.Float64Flag{Name: "depth-in", Usage: "at this `DEPTH` below the riding surface"},
			&cli.BoolFlag{Name: "at-install", Usage: "it was read when the seal went in"},
			&cli.Int64Flag{Name: "replaces", Usage: "correct the reading with this `NUMBER`"},
			&cli.StringFlag{Name: "notes"},
			&cli.BoolFlag{Name: "accept-odd", Usage: "keep what is odd, with a mark: you measured again"},
		},
		Action: func(c *cli.Context) error { return gapAdd(c, w) },
	}
}

func gapAdd(c *cli.Context, w world) error {
	if c.Args().Len() != 2 {
		return usagef("give a joint and the gap, for example J000123 1.75 --deck-temp-f 61")
	}
	ref := c.Args().First()
	gap, err := strconv.ParseFloat(c.Args().Get(1), 64)
	if err != nil {
		return usagef("%q is not a gap in inches, for example 1.75", c.Args().Get(1))
	}
	m, err := fieldReading(c, gap)
	if err != nil {
		return err
	}
	day, err := onDay(c, w)
	if err != nil {
		return err
	}
	today := inventory.DateOf(w.now())
	return changing(c, w, func(tx *store.Tx) error {
		j, b, err := jointAndBridge(c, tx, ref)
		if err != nil {
			return err
		}
		r, err := m.Reading(j, b)
		if err != nil {
			return err
		}
		r.ReadOn, r.ReplacesID = day, c.Int64("replaces")
		marks, err := condition.AddReading(c.Context, tx, j, r, c.Bool("accept-odd"), today)
		if err != nil {
			return err
		}
		for _, mark := range marks {
			fmt.Fprintln(w.err, "kept with a mark:", mark)
		}
		if err := done(c, w, nil, "a gap of %.2f in at joint %s on %s is on record", r.GapIn, j.Tag, day); err != nil {
			return err
		}
		return sayVerdict(c, w, tx, j, today)
	})
}

// sayVerdict answers a reading with what it means.
func sayVerdict(c *cli.Context, w world, tx *store.Tx, j *inventory.Joint, today inventory.Date) error {
	rules, err := condition.LoadGapRules(c.Context, tx, today)
	if err != nil {
		return err
	}
	g, err := condition.OneGap(c.Context, tx, rules, j.ID, today)
	if err != nil {
		return err
	}
	if g.Problem != "" {
		fmt.Fprintf(w.out, "The opening was not checked: %s.\n", g.Problem)
		return nil
	}
	line, err := g.Line(rules)
	if err != nil {
		return err
	}
	check := line.Judge(g.Limits, today.DecimalYear(), rules.Opening())
	for _, l := range wrap(check.Words(), tableWidth) {
		fmt.Fprintln(w.out, l)
	}
	for _, a := range g.Assumed {
		for _, l := range wrap("assumed: "+a, tableWidth) {
			fmt.Fprintln(w.out, l)
		}
	}
	return nil
}

// fieldReading reads what was written down beside the joint.
func fieldReading(c *cli.Context, gap float64) (*condition.FieldReading, error) {
	m := &condition.FieldReading{
		Gap: gap, MM: c.Bool("mm"), AlongTraffic: c.Bool("along-traffic"), OfCells: c.Int("cell"), CentreBeamsIn: c.Float64("beams-in"),
		Position: c.String("position"), Faces: c.String("faces"), AtInstall: c.Bool("at-install"), Notes: c.String("notes"),
	}
	if c.IsSet("depth-in") {
		d := c.Float64("depth-in")
		m.DepthIn = &d
	}
	for _, t := range []struct {
		of     string
		f, c   string
		target **float64
	}{{"deck", "deck-temp-f", "deck-temp-c", &m.DeckTempF}, {"air", "air-temp-f", "air-temp-c", &m.AirTempF}} {
		if c.IsSet(t.f) && c.IsSet(t.c) {
			return nil, usagef("give the %s temperature once: --%s or --%s", t.of, t.f, t.c)
		}
		if c.IsSet(t.f) {
			v := c.Float64(t.f)
			*t.target = &v
		}
		if c.IsSet(t.c) {
			v := c.Float64(t.c)*9/5 + 32
			*t.target = &v
		}
	}
	if m.DeckTempF == nil && m.AirTempF == nil {
		return nil, usagef("give the deck temperature with --deck-temp-f, or the air's with --air-temp-f: a gap without one says little")
	}
	if c.IsSet("cell") && m.OfCells < 2 {
		return nil, usagef("--cell is the number of cells of the joint, 2 or more")
	}
	return m, nil
}
