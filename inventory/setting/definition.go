package setting

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Definition is what one setting means and may be, and where its value goes.
type Definition struct {
	Name         string
	Meaning      string
	Unit         string
	Default      float64
	Min, Max     float64
	Whole        bool // a whole number
	Source       string
	Illustrative bool     // the default is a guess, to be replaced by the agency's own
	Value        *float64 // set by Reset and Load
}

// Reset gives every setting its default.
func Reset(defs []Definition) {
	for _, d := range defs {
		*d.Value = d.Default
	}
}

// Load reads the settings; those never set have their defaults.
func Load(ctx context.Context, db bun.IDB, defs []Definition) error {
	Reset(defs)
	var rows []struct{ Key, Value string }
	if err := db.NewRaw("SELECT key, value FROM settings").Scan(ctx, &rows); err != nil {
		return fmt.Errorf("read the settings: %w", err)
	}
	stored := make(map[string]string, len(rows))
	for _, r := range rows {
		stored[r.Key] = r.Value
	}
	for _, d := range defs {
		text, ok := stored[d.Name]
		if !ok {
			continue
		}
		v, err := d.Parse(text)
		if err != nil {
			return err
		}
		*d.Value = v
	}
	return nil
}

// Parse reads a value and refuses one out of range.
func (d Definition) Parse(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= d.Min && v <= d.Max) || d.Whole && v != math.Trunc(v) {
		kind := "a number"
		if d.Whole {
			kind = "a whole number"
		}
		return 0, store.Invalid(fmt.Sprintf("give %s from %g to %g", kind, d.Min, d.Max), "%s cannot be %q", d.Name, text)
	}
	return v, nil
}

// Find returns the definition of a setting by its name.
func Find(defs []Definition, name string) (Definition, error) {
	for _, d := range defs {
		if d.Name == name {
			return d, nil
		}
	}
	return Definition{}, store.NotFound("list them with: reseal settings list", "there is no setting %q", name)
}

// Set changes a setting; history keeps the value before. Setting the value
// that it has changes nothing.
func Set(ctx context.Context, tx *store.Tx, defs []Definition, name, text string) error {
	d, err := Find(defs, name)
	if err != nil {
		return err
	}
	v, err := d.Parse(text)
	if err != nil {
		return err
	}
	_, err = upsert(ctx, tx, "settings", []string{"key", "value"}, []any{name, strconv.FormatFloat(v, 'f', -1, 64)})
	return err
}
