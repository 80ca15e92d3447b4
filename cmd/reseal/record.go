package main

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/inventory"
	"reseal/inventory/store"
)

// record is all that is known of a joint.
type record struct {
	Joint       *inventory.Joint          `json:"joint"`
	Bridge      *inventory.Bridge         `json:"bridge"`
	Stretches   []inventory.SealedStretch `json:"stretches"`
	Inspections []condition.Inspection    `json:"inspections"`
	Readings    []condition.Reading       `json:"readings"`
	Work        []inventory.Work          `json:"work"`
	Findings    []inventory.Finding       `json:"findings"`
}

func jointRecord(ctx context.Context, s *store.Store, ref string) (*record, error) {
	db := s.Read()
	j, err := inventory.FindJoint(ctx, db, ref)
	if err != nil {
		return nil, err
	}
	r := &record{Joint: j}
	for _, load := range []func() error{
		func() (err error) { r.Bridge, err = inventory.BridgeByID(ctx, db, j.BridgeID); return err },
		func() (err error) { r.Stretches, err = inventory.Stretches(ctx, db, j.ID); return err },
		func() (err error) { r.Inspections, err = condition.Inspections(ctx, db, j.ID); return err },
		func() (err error) { r.Readings, err = condition.Readings(ctx, db, j.ID); return err },
		func() (err error) { r.Work, err = inventory.WorkOn(ctx, db, j.ID); return err },
		func() (err error) { r.Findings, err = findingsOn(ctx, db, j.ID); return err },
	} {
		if err := load(); err != nil {
			return nil, err
		}
	}
	return r, nil
}

func findingsOn(ctx context.Context, db bun.IDB, jointID int64) ([]inventory.Finding, error) {
	return inventory.Findings(ctx, db, inventory.FindingFilter{JointID: jointID, Closed: true})
}
