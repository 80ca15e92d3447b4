package condition

import (
	"context"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// BridgeRecord is what is on record of a bridge and its joints.
type BridgeRecord struct {
	Bridge   *inventory.Bridge     `json:"bridge"`
	Joints   []*inventory.JointRow `json:"joints"`   // along the bridge; those out of service too
	Shared   []*inventory.JointRow `json:"shared"`   // counted and paid for at the bridge beside it
	Projects []inventory.Project   `json:"projects"` // by year
	Findings []inventory.Finding   `json:"findings"` // open, the most urgent first
}

// BridgeRecordOf reads the record of the bridge that ref names, as
// inventory.FindBridge takes it.
func BridgeRecordOf(ctx context.Context, db bun.IDB, ref string) (*BridgeRecord, error) {
	b, err := inventory.FindBridge(ctx, db, ref)
	if err != nil {
		return nil, err
	}
	r := &BridgeRecord{Bridge: b}
	for _, load := range []func() error{
		func() (err error) {
			r.Joints, err = inventory.Joints(ctx, db, inventory.Filter{Structure: b.State + "/" + b.StructureNumber, Status: "any"})
			return err
		},
		func() (err error) {
			r.Shared, err = inventory.Joints(ctx, db, inventory.Filter{SharedWith: b.ID, Status: "any"})
			return err
		},
		func() (err error) { r.Projects, err = inventory.ProjectsOn(ctx, db, b.ID); return err },
		func() (err error) {
			r.Findings, err = inventory.Findings(ctx, db, inventory.FindingFilter{BridgeID: b.ID})
			return err
		},
	} {
		if err := load(); err != nil {
			return nil, err
		}
	}
	return r, nil
}
