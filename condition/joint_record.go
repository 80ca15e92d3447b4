package condition

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// JointRecord is all that is on record of a joint.
type JointRecord struct {
	Joint       *inventory.Joint          `json:"joint"`
	Bridge      *inventory.Bridge         `json:"bridge"`
	Stretches   []inventory.SealedStretch `json:"stretches"`
	Inspections []Inspection              `json:"inspections"` // the latest first
	Readings    []Reading                 `json:"readings"`    // oldest first
	Work        []inventory.Work          `json:"work"`        // oldest first
	Findings    []inventory.Finding       `json:"findings"`    // closed ones too
}

// RecordOf reads all that is on record of the joint with the given tag or label.
func RecordOf(ctx context.Context, db bun.IDB, ref string) (*JointRecord, error) {
	j, err := inventory.FindJoint(ctx, db, ref)
	if err != nil {
		return nil, err
	}
	r := &JointRecord{Joint: j}
	for _, load := range []func() error{
		func() (err error) { r.Bridge, err = inventory.BridgeByID(ctx, db, j.BridgeID); return err },
		func() (err error) { r.Stretches, err = inventory.Stretches(ctx, db, j.ID); return err },
		func() (err error) { r.Inspections, err = Inspections(ctx, db, j.ID); return err },
		func() (err error) { r.Readings, err = Readings(ctx, db, j.ID); return err },
		func() (err error) { r.Work, err = inventory.WorkOn(ctx, db, j.ID); return err },
		func() (err error) {
			r.Findings, err = inventory.Findings(ctx, db, inventory.FindingFilter{JointID: j.ID, Closed: true})
			return err
		},
	} {
		if err := load(); err != nil {
			return nil, err
		}
	}
	return r, nil
}
