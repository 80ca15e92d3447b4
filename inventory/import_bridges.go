package inventory

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/paulmach/orb"
	"github.com/uptrace/bun"

	"reseal/geo"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// IsNBI tells whether a file is delimited text of the National Bridge
// Inventory, by its header. It reads nothing off r.
func IsNBI(r *bufio.Reader) bool {
	head, _ := r.Peek(4096)
	header, _, _ := bytes.Cut(head, []byte("\n"))
	return bytes.Contains(bytes.ToUpper(header), []byte("STRUCTURE_NUMBER_008"))
}

// BridgeSheet is the spreadsheet that ImportBridges reads.
func BridgeSheet() *Sheet {
	inf := math.Inf(1)
	columns := append(WhichBridge(),
		table.Column{Name: "lat", Kind: table.Float, Min: -90, Max: 90, Synonyms: []string{"latitude"}, Help: "WGS 84 degrees, north positive", Example: "44.05"},
		table.Column{Name: "lon", Kind: table.Float, Min: -180, Max: 180, Synonyms: []string{"longitude", "lng", "long"}, Help: "WGS 84 degrees, west negative", Example: "-123.09"},
		table.Column{Name: "name", Synonyms: []string{"bridge_name"}},
		table.Column{Name: "facility_carried", Synonyms: []string{"facility"}, Example: "I 5 NB"},
		table.Column{Name: "feature_intersected", Synonyms: []string{"feature"}, Example: "Mill Creek"},
		table.Column{Name: "route", Example: "I 5"},
		table.Column{Name: "milepost", Kind: table.Float, Synonyms: []string{"mile", "mile_post"}, Example: "12.4"},
		table.Column{Name: "district"}, table.Column{Name: "county"}, table.Column{Name: "owner"}, table.Column{Name: "location"},
		table.Column{Name: "year_built", Kind: table.Int, Min: 1700, Max: 2200, Example: "1964"},
		table.Column{Name: "year_reconstructed", Kind: table.Int, Min: 1700, Max: 2200},
		table.Column{Name: "length_ft", Kind: table.Length, Max: 999999, Example: "320"},
		table.Column{Name: "main_spans", Kind: table.Int, Max: 9999}, table.Column{Name: "approach_spans", Kind: table.Int, Max: 9999},
		table.Column{Name: "skew_deg", Kind: table.Float, Max: 90, Synonyms: []string{"skew"}, Help: "degrees from the line square to the roadway"},
		table.Column{Name: "skew_varies", Kind: table.Bool},
		table.Column{Name: "curb_width_ft", Kind: table.Length, Max: 9999, Help: "curb to curb"}, table.Column{Name: "out_width_ft", Kind: table.Length, Max: 9999, Help: "out to out"},
		table.Column{Name: "bearing_deg", Kind: table.Float, Max: 359.999, Help: "direction of increasing milepost, clockwise from north"},
		table.Column{Name: "material", Help: "of the superstructure", Example: "steel"}, table.Column{Name: "continuous", Kind: table.Bool}, table.Column{Name: "design"},
		table.Column{Name: "lanes", Kind: table.Int, Max: 99}, table.Column{Name: "adt", Kind: table.Int, Max: 9999999, Help: "vehicles a day"},
		table.Column{Name: "adt_year", Kind: table.Int, Min: 1900, Max: 2200}, table.Column{Name: "truck_pct", Kind: table.Percent, Max: 100},
		table.Column{Name: "climate", Enum: []string{"moderate", "cold"}, Help: "class of AASHTO LRFD 3.12.2.1"},
		table.Column{Name: "deck_temp_min_f", Kind: table.Temperature, Min: -60, Max: 180}, table.Column{Name: "deck_temp_max_f", Kind: table.Temperature, Min: -60, Max: 180},
		table.Column{Name: "deicing", Enum: []string{"none", "light", "moderate", "heavy"}},
		table.Column{Name: "detour_mi", Kind: table.Length, Max: 999}, table.Column{Name: "below", Help: "what the bridge crosses"}, table.Column{Name: "nhs", Kind: table.Bool, Help: "on the National Highway System"},
	)
	for _, part := range []string{"deck", "superstructure", "substructure", "joints"} {
		columns = append(columns, table.Column{Name: part + "_rating", Kind: table.Int, Min: 0, Max: 9})
	}
	columns = append(columns,
		table.Column{Name: "inspection_months", Kind: table.Int, Min: 1, Max: inf, Help: "months between inspections", Example: "24"},
		table.Column{Name: "last_inspection", Kind: table.Date, Help: "a day or a month", Example: "2025-06"},
		table.Column{Name: "twin", Help: "structure number of the parallel bridge"}, table.Column{Name: "access", Help: "what an inspection needs to get there"},
		table.Column{Name: "notes", Synonyms: []string{"remarks", "comments"}},
	)
	return &Sheet{What: "bridges", Columns: columns, AnyOf: whichBridgeBy}
}

// ImportBridges reads bridges from a spreadsheet. Those on record, known by
// state and structure number, are brought up to date where the row says
// something, and history keeps what they were; others are added.
func ImportBridges(ctx context.Context, tx *store.Tx, r io.Reader, name string, opt IntakeOptions) (Intake, error) {
	sheet := BridgeSheet()
	var plain []string
	for _, c := range sheet.Columns[whichNumber+1:] {
		if c.Name != "lat" && c.Name != "lon" && c.Name != "last_inspection" {
			plain = append(plain, c.Name)
		}
	}
	im := &bridgeImport{ctx: ctx, tx: tx, sheet: sheet, opt: opt, fill: FillOf[Bridge](sheet, plain...), seen: map[string]int{}}
	before, err := count(ctx, tx, "bridges")
	if err == nil && before == 0 {
		err = tx.DropIndex(ctx, "bridges")
	}
	if err == nil {
		im.out, err = store.RowsOf[Bridge](ctx, tx)
	}
	if err != nil {
		return Intake{File: name}, err
	}
	in, err := sheet.Read(r, name, opt, im.take)
	err = errors.Join(err, im.out.Close())
	if err == nil && before > 0 {
		err = redraw(ctx, tx, "b.changed_at >= ?", tx.At)
	}
	if err == nil && before == 0 {
		err = tx.CreateIndex(ctx, "bridges")
	}
	return in, err
}

// bridgeImport is one run of ImportBridges.
type bridgeImport struct {
	ctx   context.Context
	tx    *store.Tx
	sheet *Sheet
	opt   IntakeOptions
	fill  Fill[Bridge]
	out   *store.Rows[Bridge]
	seen  map[string]int // the line of each bridge
}

func (im *bridgeImport) take(in *Intake, rows []*table.Row) error {
	refs := make([]ref, len(rows))
	var numbers []string
	for i, row := range rows {
		refs[i] = bridgeRef(row, im.opt.State)
		numbers = append(numbers, refs[i].number)
	}
	var found []*Bridge
	if err := im.tx.NewSelect().Model(&found).Where(numberedBridges, bun.List(numbers)).Scan(im.ctx); err != nil {
		return err
	}
	known := make(map[string]*Bridge, len(found))
	for _, b := range found {
		known[b.State+"/"+b.StructureNumber] = b
	}
	for i, row := range rows {
		if err := im.row(in, row, refs[i], known[refs[i].state+"/"+refs[i].number]); err != nil {
			return err
		}
	}
	return im.out.Flush()
}

func (im *bridgeImport) row(in *Intake, row *table.Row, r ref, b *Bridge) error {
	key := r.state + "/" + r.number
	switch {
	case r.number == "":
		row.RefuseRow("the row names no bridge", "give its structure number")
	case r.state == "":
		row.RefuseRow("the row does not say in which state the bridge is", "give the two-digit FIPS code in a column state, or for the whole file with --state")
	case im.seen[key] > 0:
		row.RefuseRow(fmt.Sprintf("line %d is about the same bridge (%s)", im.seen[key], key), "keep one of the two rows")
	}
	isNew := b == nil
	if isNew {
		b = &Bridge{State: r.state, StructureNumber: r.number, Status: InService, Source: "spreadsheet"}
	}
	changed := im.fill.From(row, b, im.opt.Today)
	changed = im.place(row, b, isNew) || changed
	if d, ok := row.Date(im.sheet.At("last_inspection")); ok && d.String() != b.LastInspection {
		if d.Month == 0 || im.opt.Today.Before(DateOf(d.First())) {
			row.Refuse(im.sheet.At("last_inspection"), "is not a day or month that has passed", "YYYY-MM-DD or YYYY-MM")
		}
		b.LastInspection, changed = d.String(), true
	}
	if b.DeckTempMinF != nil && b.DeckTempMaxF != nil && *b.DeckTempMaxF <= *b.DeckTempMinF {
		row.RefuseRow("the highest deck temperature is not over the lowest", "correct one of them")
	}
	if err := b.Validate(); err != nil && !row.Bad() {
		RefuseRow(row, err)
	}
	if row.Bad() {
		return nil
	}
	im.seen[key] = row.Line()
	switch {
	case isNew:
		b.ID, b.UID, b.Stamp = im.out.NewID(), im.tx.NewUID(), im.tx.Created()
		in.Added++
	case changed:
		im.tx.Changed(&b.Stamp)
		in.Changed++
		return im.out.Update(b)
	default:
		in.Unchanged++
		return nil
	}
	return im.out.Add(b)
}

// samePlace tells whether a point on record is the one given, to the seven decimals of
// a degree that tables are written with.
func samePlace(on orb.Geometry, given orb.Point) bool {
	p, ok := on.(orb.Point)
	return ok && math.Abs(p[0]-given[0]) < 1e-7 && math.Abs(p[1]-given[1]) < 1e-7
}

// place takes over the bridge's place.
func (im *bridgeImport) place(row *table.Row, b *Bridge, isNew bool) (changed bool) {
	lat, hasLat := row.Float(im.sheet.At("lat"))
	lon, hasLon := row.Float(im.sheet.At("lon"))
	switch {
	case hasLat != hasLon && !row.Bad():
		row.RefuseRow("the bridge's place has only one of its two coordinates", "give lat and lon, or neither")
	case hasLat && hasLon:
		if at := (orb.Point{lon, lat}); !samePlace(b.Geom.Geometry, at) {
			b.Geom, b.PositionProblem = geo.Geometry{Geometry: at}, ""
			return true
		}
	case isNew:
		b.PositionProblem = "the file gives no position"
	}
	return false
}
