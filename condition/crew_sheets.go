package condition

import (
	"context"
	"fmt"

	"github.com/uptrace/bun"

	"reseal/condition/sheet"
	"reseal/inventory"
)

// NoSheet is a joint for which no sheet can be made, and why.
type NoSheet struct {
	Tag string
	Err error
}

// CrewSheets makes the sheets of the joints with the given tags, in their
// order. Of several joints, those for which none can be made are told with the
// reason; of one alone it is the error.
func CrewSheets(ctx context.Context, db bun.IDB, tags []string, o CrewOptions) (sheets []sheet.Sheet, refused []NoSheet, err error) {
	rules, err := LoadGapRules(ctx, db, o.AsOf)
	if err != nil {
		return nil, nil, err
	}
	for _, tag := range tags {
		made, err := crewSheet(ctx, db, rules, tag, o)
		switch {
		case ctx.Err() != nil:
			return nil, nil, ctx.Err()
		case err != nil && len(tags) == 1:
			return nil, nil, err
		case err != nil:
			refused = append(refused, NoSheet{tag, err})
		}
		sheets = append(sheets, made...)
	}
	return sheets, refused, nil
}

func crewSheet(ctx context.Context, db bun.IDB, rules *GapRules, tag string, o CrewOptions) ([]sheet.Sheet, error) {
	j, err := inventory.FindJoint(ctx, db, tag)
	if err != nil {
		return nil, err
	}
	jobs, err := CrewJobs(ctx, db, rules, j, o)
	if err != nil {
		return nil, err
	}
	var out []sheet.Sheet
	for _, job := range jobs {
		made, err := sheet.New(job, rules.Practice())
		if err != nil {
			return nil, fmt.Errorf("joint %s: %w", j.Tag, err)
		}
		out = append(out, made)
	}
	return out, nil
}
