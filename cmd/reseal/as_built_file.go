package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/inventory"
	"reseal/inventory/store"
	"reseal/inventory/table"
)

// The columns of an as-built table; the readings follow them.
const (
	builtTag = iota
	builtOn
	builtSeal
	builtKind
	builtSize
	builtStretch
	builtTreatment
	builtProduct
	builtLot
	builtRecess
	builtCost
	builtByWhom
	builtContract
	builtWarranty
	builtNotes
	builtReadings
)

func asBuiltColumns() []table.Column {
	columns := []table.Column{
		builtTag:       {Name: "joint", Required: true, Synonyms: []string{"tag"}, Help: "its tag or label", Example: "J000123"},
		builtOn:        {Name: "done_on", Kind: table.Date, Required: true, Synonyms: []string{"installed"}, Example: "2026-09-12"},
		builtSeal:      {Name: "seal", Help: "as the catalogue has it, with its limits; or give kind and size", Example: "strip seal, 4 in"},
		builtKind:      {Name: "kind", Help: "kind of seal"},
		builtSize:      {Name: "size"},
		builtStretch:   {Name: "stretch", Kind: table.Int, Min: 1, Max: 99, Help: "number of the stretch that got it; blank: all"},
		builtTreatment: {Name: "treatment", Help: "what was done; blank: reseal"},
		builtProduct:   {Name: "product"},
		builtLot:       {Name: "lot"},
		builtRecess:    {Name: "recess_in", Kind: table.Length, Min: -2, Max: 12},
		builtCost:      {Name: "cost_usd", Kind: table.Money, Max: 1e9},
		builtByWhom:    {Name: "by_whom", Enum: []string{"in-house", "contract"}},
		builtContract:  {Name: "contract"},
		builtWarranty:  {Name: "warranty_until", Kind: table.Date},
		builtNotes:     {Name: "notes"},
	}
	for _, place := range places {
		name := strings.ReplaceAll(place, " ", "_")
		columns = append(columns,
			table.Column{Name: name + "_gap_in", Kind: table.Length, Max: condition.MaxGapIn, Help: "opening at the " + place + ", square to the joint"},
			table.Column{Name: name + "_deck_temp_f", Kind: table.Temperature, Min: condition.MinDeckTempF, Max: condition.MaxDeckTempF, Help: "deck temperature there"})
	}
	return columns
}

func asBuiltTemplate(w world) error {
	out, err := table.NewCSV(w.out, asBuiltColumns())
	if err != nil {
		return err
	}
	return out.Close()
}

// recordFile takes a table of as-built rows in, all or nothing.
func recordFile(c *cli.Context, w world) error {
	path := c.String("csv")
	in, closeFile, err := openInput(path, w)
	if err != nil {
		return err
	}
	defer closeFile()
	r, err := table.NewReader(in, filepath.Base(path), asBuiltColumns(), table.Options{})
	if err != nil {
		return refused(err)
	}
	defer r.Close()
	n, today := 0, inventory.DateOf(w.now())
	err = changing(c, w, func(tx *store.Tx) error {
		for row := range r.Rows() {
			if err := recordRow(c, w, tx, row, today); err != nil {
				return err
			}
			n++
		}
		if err := r.Err(); err != nil {
			return err
		}
		return r.Faults().Err()
	})
	if err != nil {
		return refused(err)
	}
	return done(c, w, nil, "%s on record", plural(n, "new seal"))
}

// recordRow puts one row on record. What is wrong with it becomes a fault of
// the row; only a failure of the database is an error.
func recordRow(c *cli.Context, w world, tx *store.Tx, row *table.Row, today inventory.Date) error {
	a, name := asBuiltOf(row)
	tag, _ := row.Text(builtTag)
	if row.Bad() {
		return nil
	}
	j, err := inventory.FindJoint(c.Context, tx, tag)
	if err == nil {
		err = condition.NameSeal(c.Context, tx, &a.Seal, name)
	}
	var odd []string
	if err == nil {
		odd, err = a.Record(c.Context, tx, j, c.Bool("accept-odd"), today)
	}
	for _, mark := range odd {
		fmt.Fprintf(w.err, "kept with a mark: line %d, %s: %s\n", row.Line(), tag, mark)
	}
	if err == nil {
		return nil
	}
	if isOurs(err) {
		row.Refuse(builtTag, err.Error(), store.Hint(err))
		return nil
	}
	return err
}

func asBuiltOf(row *table.Row) (a *condition.AsBuilt, seal string) {
	text := func(i int) string { s, _ := row.Text(i); return s }
	day := func(i int) (d inventory.Date) {
		when, ok := row.Date(i)
		if ok && when.Day == 0 {
			row.Refuse(i, "is not a day", "YYYY-MM-DD")
		} else if ok {
			d = inventory.DateOf(when.First())
		}
		return d
	}
	a = &condition.AsBuilt{
		On: day(builtOn), Treatment: text(builtTreatment), ByWhom: text(builtByWhom), Contract: text(builtContract),
		Why: "worn", Notes: text(builtNotes),
		Seal: inventory.Seal{
			Kind: text(builtKind), Size: text(builtSize), Product: text(builtProduct), Lot: text(builtLot), WarrantyUntil: day(builtWarranty),
		},
	}
	a.Stretch, _ = row.Int(builtStretch)
	if v, ok := row.Float(builtRecess); ok {
		a.Seal.RecessIn = &v
	}
	if v, ok := row.Cents(builtCost); ok {
		a.CostCents = &v
	}
	for i, place := range places {
		gap, ok := row.Float(builtReadings + 2*i)
		temp, known := row.Float(builtReadings + 2*i + 1)
		switch {
		case ok && known:
			a.Readings = append(a.Readings, condition.FieldReading{Gap: gap, DeckTempF: &temp, Position: place})
		case ok:
			row.Refuse(builtReadings+2*i+1, "is blank", "the deck temperature of the opening beside it")
		}
	}
	return a, text(builtSeal)
}

// isOurs tells an error about what was entered from one of the database.
func isOurs(err error) bool {
	return errors.Is(err, store.ErrInvalid) || errors.Is(err, store.ErrNotFound) || errors.Is(err, opening.ErrInvalid)
}
