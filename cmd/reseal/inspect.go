package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

var inspectionColumns = []string{"seen_from", "access_limit", "wet", "leaking", "notes"}

func inspectCommand(w world) *cli.Command {
	feet := func(name, usage string) cli.Flag { return &cli.Float64Flag{Name: name, Usage: "`FEET` " + usage} }
	return &cli.Command{
		Name: "inspect", Usage: "log one inspection", ArgsUsage: "JOINT",
		Description: "From flags; or from questions on a terminal, with last cycle's values beside them;\nor with --json from standard input: one object, or a list of them.\n\n" +
			"example: reseal inspect J000123 --cs1 30 --cs2 12 --gap 1.75 --deck-temp-f 61\n" +
			"example: reseal inspect J000123 --worst 3 --leaking\n" +
			"example: reseal inspect --json < entries.json\n\n" +
			"A defect is NUMBER:STATE, or NUMBER:STATE:FROM-TO in feet:\n" +
			"2310 leakage, 2320 seal adhesion, 2330 seal damage, 2340 seal cracking,\n2350 debris impaction, 2360 adjacent deck or header, 2370 metal.\n\n" +
			"Measure a gap from a closed lane only, and record the deck temperature with it.",
		Flags: append([]cli.Flag{
			dryRunFlag, onFlag,
			feet("cs1", "in CS1, good"), feet("cs2", "in CS2, fair"), feet("cs3", "in CS3, poor"), feet("cs4", "in CS4, severe"),
			feet("not-seen", "that could not be seen"),
			&cli.IntFlag{Name: "stretch", Value: 1, Usage: "the `NUMBER` of the stretch that the feet are of"},
			&cli.IntFlag{Name: "worst", Usage: "quick entry: the worst `STATE`, 1 to 4, without feet"},
			&cli.StringSliceFlag{Name: "defect", Usage: "a `DEFECT`, for example 2330:3:0-12; may be repeated"},
			&cli.Float64Flag{Name: "gap", Usage: "the gap in `INCHES`, square to the joint"},
			&cli.Float64Flag{Name: "deck-temp-f", Usage: "the `TEMPERATURE` of the deck at the gap reading"},
			&cli.Float64Flag{Name: "air-temp-f", Usage: "the `TEMPERATURE` of the air, if the deck's is not known"},
			&cli.StringFlag{Name: "position", Usage: "`WHERE` the gap was read: left curb, crown, right curb"},
			&cli.StringSliceFlag{Name: "photo", Usage: "the `NAME` of a photo file; may be repeated"},
			&cli.Int64Flag{Name: "replaces", Usage: "correct the inspection with this `NUMBER`"},
			&cli.BoolFlag{Name: "accept-odd", Usage: "keep what is odd, with a mark: you looked again"},
			&cli.BoolFlag{Name: "json", Usage: "read entries from standard input"},
			&cli.BoolFlag{Name: "wet", Usage: "the joint was wet; if it was dry: --wet=false"},
			&cli.BoolFlag{Name: "leaking", Usage: "the joint leaked; if it did not: --leaking=false"},
		}, fieldFlags(map[string]string{"seen_from": "top, below or both"}, "seen_from", "access_limit", "notes")...),
		Action: func(c *cli.Context) error { return inspect(c, w) },
	}
}

// entry is an inspection as people give it: the joint by name, stretches by
// number.
type entry struct {
	Joint string `json:"joint"`
	condition.Inspection
	Stretches []stretchFeet `json:"stretches,omitempty"`
}

type stretchFeet struct {
	Stretch int `json:"stretch"` // from 1
	condition.Feet
}

func inspect(c *cli.Context, w world) error {
	if c.Bool("json") {
		if c.Args().Present() {
			return usagef("with --json the joints are named in the entries")
		}
		entries, err := readEntries(w.in)
		if err != nil {
			return err
		}
		return logEntries(c, w, entries)
	}
	ref, err := oneArg(c, "a joint's tag or label")
	if err != nil {
		return err
	}
	e, err := entryFromFlags(c, w, ref)
	if err != nil {
		return err
	}
	if e == nil {
		if e, err = ask(c, w, ref); err != nil {
			return err
		}
	}
	return logEntries(c, w, []entry{*e})
}

// readEntries reads one entry or a list of them.
func readEntries(r io.Reader) ([]entry, error) {
	raw, err := io.ReadAll(io.LimitReader(r, 64<<20))
	if err != nil {
		return nil, err
	}
	text := strings.TrimSpace(string(raw))
	if !strings.HasPrefix(text, "[") {
		text = "[" + text + "]"
	}
	var entries []entry
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&entries); err != nil {
		return nil, store.Invalid(`an entry looks like {"joint": "J000123", "inspected_on": "2026-05-04", "stretches": [{"stretch": 1, "cs1_ft": 40, "cs2_ft": 2}]}`,
			"the entries cannot be read: %v", err)
	}
	return entries, nil
}

// entryFromFlags returns nil where no flag says anything about the joint.
func entryFromFlags(c *cli.Context, w world, ref string) (*entry, error) {
	on, err := onDay(c, w)
	if err != nil {
		return nil, err
	}
	e := &entry{Joint: ref}
	e.InspectedOn, e.Inspector, e.ReplacesID = on, actor(c), c.Int64("replaces")
	said, err := setFields(c, &e.Inspection, inspectionColumns...)
	if err != nil {
		return nil, err
	}
	f := stretchFeet{Stretch: c.Int("stretch")}
	for name, field := range map[string]*float64{"cs1": &f.CS1Ft, "cs2": &f.CS2Ft, "cs3": &f.CS3Ft, "cs4": &f.CS4Ft, "not-seen": &f.NotSeenFt} {
		if c.IsSet(name) {
			*field = c.Float64(name)
			e.Stretches = []stretchFeet{f}
		}
	}
	if len(e.Stretches) > 0 {
		e.Stretches[0] = f
		said++
	}
	if c.IsSet("worst") {
		if e.QuickWorst = c.Int("worst"); e.QuickWorst < 1 || e.QuickWorst > 4 {
			return nil, usagef("--worst is 1, 2, 3 or 4")
		}
		e.Quick = true
		said++
	}
	for _, text := range c.StringSlice("defect") {
		d, err := parseDefect(text)
		if err != nil {
			return nil, err
		}
		e.Defects = append(e.Defects, d)
		said++
	}
	if c.IsSet("gap") {
		e.Readings = []condition.Reading{readingFromFlags(c)}
		said++
	}
	e.Photos = strings.Join(c.StringSlice("photo"), "\n")
	if said == 0 {
		return nil, nil
	}
	return e, nil
}

func readingFromFlags(c *cli.Context) condition.Reading {
	r := condition.Reading{GapIn: c.Float64("gap"), Position: c.String("position")}
	for name, field := range map[string]**float64{"deck-temp-f": &r.DeckTempF, "air-temp-f": &r.AirTempF} {
		if c.IsSet(name) {
			t := c.Float64(name)
			*field = &t
		}
	}
	return r
}

// parseDefect reads NUMBER:STATE or NUMBER:STATE:FROM-TO.
func parseDefect(text string) (condition.Defect, error) {
	var d condition.Defect
	bad := usagef("--defect is NUMBER:STATE or NUMBER:STATE:FROM-TO, for example 2330:3:0-12, not %q", text)
	parts := strings.Split(text, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return d, bad
	}
	var err1, err2 error
	d.Number, err1 = strconv.Atoi(parts[0])
	d.State, err2 = strconv.Atoi(strings.TrimPrefix(strings.ToUpper(parts[1]), "CS"))
	if err1 != nil || err2 != nil {
		return d, bad
	}
	if len(parts) == 3 {
		from, to, ok := strings.Cut(parts[2], "-")
		a, err1 := strconv.ParseFloat(from, 64)
		b, err2 := strconv.ParseFloat(to, 64)
		if !ok || err1 != nil || err2 != nil {
			return d, bad
		}
		d.FromFt, d.ToFt = &a, &b
	}
	return d, nil
}

// logEntries puts the entries on record, all or none.
func logEntries(c *cli.Context, w world, entries []entry) error {
	today := inventory.DateOf(w.now())
	var odd []string
	err := changing(c, w, func(tx *store.Tx) error {
		for i := range entries {
			marks, err := logEntry(c, tx, &entries[i], today)
			if err != nil {
				return fmt.Errorf("joint %s: %w", entries[i].Joint, err)
			}
			for _, m := range marks {
				odd = append(odd, entries[i].Joint+": "+m)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, m := range odd {
		fmt.Fprintln(w.err, "kept with a mark:", m)
	}
	if len(entries) == 1 {
		e := &entries[0]
		return done(c, w, nil, "inspection %d of joint %s on %s is on record", e.ID, e.Joint, e.InspectedOn)
	}
	return done(c, w, nil, "%d inspections are on record", len(entries))
}

func logEntry(c *cli.Context, tx *store.Tx, e *entry, today inventory.Date) ([]string, error) {
	j, err := inventory.FindJoint(c.Context, tx, e.Joint)
	if err != nil {
		return nil, err
	}
	if e.Inspector == "" {
		e.Inspector = actor(c)
	}
	if len(e.Stretches) > 0 {
		stretches, err := inventory.Stretches(c.Context, tx, j.ID)
		if err != nil {
			return nil, err
		}
		for _, f := range e.Stretches {
			if f.Stretch < 1 || f.Stretch > len(stretches) {
				return nil, store.Invalid("", "the joint has stretches 1 to %d, not %d", len(stretches), f.Stretch)
			}
			f.StretchID = stretches[f.Stretch-1].ID
			e.Feet = append(e.Feet, f.Feet)
		}
	}
	if e.ReplacesID != 0 {
		return condition.Replace(c.Context, tx, j, e.ReplacesID, &e.Inspection, c.Bool("accept-odd"), today)
	}
	return condition.Log(c.Context, tx, j, &e.Inspection, c.Bool("accept-odd"), today)
}

// ask puts the questions of an inspection on a terminal.
func ask(c *cli.Context, w world, ref string) (*entry, error) {
	f, ok := w.in.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil, usagef("say what was seen, for example --cs1 30 --cs2 12; on a terminal reseal asks")
	}
	e := &entry{Joint: ref}
	err := reading(c, w, func(s *store.Store) error {
		j, err := inventory.FindJoint(c.Context, s.Read(), ref)
		if err != nil {
			return err
		}
		k, err := condition.KnownOf(c.Context, s.Read(), j, inventory.DateOf(w.now()).AddDays(1), inventory.DateOf(w.now()))
		if err != nil {
			return err
		}
		return questions(newAsker(w), e, k, actor(c))
	})
	return e, err
}

// errNoAnswer ends the questions when the input does.
var errNoAnswer = errors.New("no answer: nothing was logged")
