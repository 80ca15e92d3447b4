package main

import (
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"
	"github.com/urfave/cli/v2"

	"reseal/inventory"
	"reseal/inventory/store"
)

// filterFlags choose bridges and joints.
func filterFlags() []cli.Flag {
	return []cli.Flag{
		&cli.StringFlag{Name: "district", Usage: "in this `DISTRICT`"},
		&cli.StringFlag{Name: "county", Usage: "in this `COUNTY`"},
		&cli.StringFlag{Name: "route", Usage: "on this `ROUTE`"},
		&cli.StringFlag{Name: "milepost", Usage: "between two mileposts, `FROM-TO`"},
		&cli.StringFlag{Name: "bridge", Usage: "of the bridge with this structure `NUMBER`"},
		&cli.StringFlag{Name: "kind", Usage: "joints with this `SEAL` kind"},
		&cli.IntFlag{Name: "worst", Usage: "joints with any length in this `STATE` or worse (1 to 4)"},
		&cli.StringFlag{Name: "status", Usage: "with this `STATUS`, or any; in service if not given"},
		&cli.StringFlag{Name: "box", Usage: "inside `WEST,SOUTH,EAST,NORTH` in degrees"},
		&cli.StringFlag{Name: "near", Usage: "near `LON,LAT`; see --within"},
		&cli.Float64Flag{Name: "within", Value: 5280, Usage: "`FEET` from --near"},
		&cli.StringFlag{Name: "text", Usage: "with this `TEXT` in number, tag, label, name, facility or feature"},
		&cli.StringFlag{Name: "sort", Value: "travel", Usage: "`ORDER`: " + strings.Join(inventory.Sorts, ", ")},
		&cli.IntFlag{Name: "limit", Usage: "at most so `MANY` rows"},
		&cli.IntFlag{Name: "offset", Usage: "leave out the first `N` rows"},
	}
}

// filterFrom reads filterFlags.
func filterFrom(c *cli.Context) (inventory.Filter, error) {
	f := inventory.Filter{
		District: c.String("district"), County: c.String("county"), Route: c.String("route"),
		Structure: c.String("bridge"), SealKind: c.String("kind"), WorstState: c.Int("worst"),
		Status: c.String("status"), Text: c.String("text"), Sort: c.String("sort"),
		Limit: c.Int("limit"), Offset: c.Int("offset"), WithinFt: c.Float64("within"),
	}
	if s := c.String("milepost"); s != "" {
		from, to, _ := strings.Cut(s, "-")
		for i, v := range []string{from, to} {
			if v == "" {
				continue
			}
			n, err := strconv.ParseFloat(v, 64)
			if err != nil {
				return f, usagef("--milepost is FROM-TO in miles, for example 12.5-30, not %q", s)
			}
			f.MilepostAt[i] = &n
		}
	}
	if s := c.String("box"); s != "" {
		n, err := numbers(s, 4)
		if err != nil || n[0] > n[2] || n[1] > n[3] {
			return f, usagef("--box is WEST,SOUTH,EAST,NORTH in degrees, not %q", s)
		}
		f.Box = &orb.Bound{Min: orb.Point{n[0], n[1]}, Max: orb.Point{n[2], n[3]}}
	}
	if s := c.String("near"); s != "" {
		n, err := numbers(s, 2)
		if err != nil {
			return f, usagef("--near is LON,LAT in degrees, not %q", s)
		}
		f.Near = &orb.Point{n[0], n[1]}
	}
	return f, nil
}

// knownFilter refuses a filter that no record can meet: a district written in
// another way would else pass for one without joints and without costs.
func knownFilter(c *cli.Context, db bun.IDB) error {
	if flagNamed(c.Command.Flags, "near") == nil { // its flags of these names are no filters
		return nil
	}
	_, number := inventory.SplitStructure(c.String("bridge"))
	for _, f := range []struct{ what, table, column, value string }{
		{"district", "bridges", "district", c.String("district")},
		{"county", "bridges", "county", c.String("county")},
		{"route", "bridges", "route", c.String("route")},
		{"seal of kind", "seals", "kind", c.String("kind")},
		{"bridge", "bridges", "structure_number", number},
	} {
		if f.value == "" {
			continue
		}
		var some []string
		err := db.NewSelect().Table(f.table).ColumnExpr("DISTINCT ?", bun.Ident(f.column)).Where("? = ?", bun.Ident(f.column), f.value).Scan(c.Context, &some)
		if err != nil {
			return err
		}
		if len(some) > 0 {
			continue
		}
		const most = 12
		err = db.NewSelect().Table(f.table).ColumnExpr("DISTINCT ?", bun.Ident(f.column)).Where("? > ''", bun.Ident(f.column)).
			OrderExpr("?", bun.Ident(f.column)).Limit(most+1).Scan(c.Context, &some)
		if err != nil {
			return err
		}
		hint := "on record: " + strings.Join(some[:min(most, len(some))], ", ")
		switch {
		case len(some) == 0:
			hint = "none is on record"
		case len(some) > most:
			hint += ", …"
		}
		return store.NotFound(hint, "there is no %s %q on record", f.what, f.value)
	}
	return nil
}

// numbers reads n degrees, of longitude and latitude by turns.
func numbers(s string, n int) ([]float64, error) {
	parts := strings.Split(s, ",")
	if len(parts) != n {
		return nil, strconv.ErrSyntax
	}
	out := make([]float64, n)
	for i, p := range parts {
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil || v != v || math.Abs(v) > [...]float64{180, 90}[i%2] {
			return nil, strconv.ErrRange
		}
		out[i] = v
	}
	return out, nil
}
