package condition

import (
	"context"
	"fmt"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Entry is an inspection as a person or a device gives it: the joint by name,
// the stretches by number.
type Entry struct {
	Joint    string `json:"joint"`
	JointUID string `json:"joint_uid,omitempty"` // that the device knew the joint by; empty: not compared
	Inspection
	Stretches []StretchFeet `json:"stretches,omitempty"`
	AcceptOdd bool          `json:"accept_odd,omitempty"` // the inspector looked again: keep it with a mark

	// SeenID is the newest inspection that the inspector knew of, 0 for none:
	// one that came in since is a conflict. nil compares with nothing.
	SeenID *int64 `json:"seen_id,omitempty"`
}

// StretchFeet are the feet of the stretch with a number, from 1.
type StretchFeet struct {
	Stretch int `json:"stretch"`
	Feet
}

// Outcome is what became of an entry.
type Outcome struct {
	Again bool         // it was on record already, by its uid: nothing was added
	Odd   []string     // what is odd in it: kept with these marks, or the reason why it was refused
	Newer []Inspection // what came in since the inspector looked: the reason of a conflict
}

// Log puts the entry on record as Log and Replace do, in any number of tries
// once. Where the inspector does not know of an inspection on record it is
// store.ErrConflict, and Outcome.Newer has it: the entry goes on record if it
// is sent again with the newer SeenID, beside the other or in its place.
func (e *Entry) Log(ctx context.Context, tx *store.Tx, today inventory.Date) (o Outcome, err error) {
	j, err := inventory.SameJoint(ctx, tx, e.Joint, e.JointUID)
	if err != nil {
		return o, err
	}
	e.ID = 0
	if e.UID != "" {
		if e.ID, err = tx.IDOf(ctx, "inspections", e.UID); err != nil || e.ID != 0 {
			o.Again = e.ID != 0
			return o, err
		}
	}
	if e.SeenID != nil {
		if o.Newer, err = newer(ctx, tx, j.ID, *e.SeenID); err != nil {
			return o, err
		}
		if n := len(o.Newer); n > 0 {
			by := ""
			if o.Newer[0].Inspector != "" {
				by = " by " + o.Newer[0].Inspector
			}
			return o, &store.Error{
				Kind: store.ErrConflict, Text: fmt.Sprintf("joint %s was inspected on %s%s meanwhile", j.Tag, o.Newer[0].InspectedOn, by),
				Hint: "keep both, let this one replace it, or drop this one",
			}
		}
	}
	if err := e.takeStretches(ctx, tx, j); err != nil {
		return o, err
	}
	if e.ReplacesID != 0 {
		o.Odd, err = Replace(ctx, tx, j, e.ReplacesID, &e.Inspection, e.AcceptOdd, today)
	} else {
		o.Odd, err = Log(ctx, tx, j, &e.Inspection, e.AcceptOdd, today)
	}
	return o, err
}

func (e *Entry) takeStretches(ctx context.Context, tx *store.Tx, j *inventory.Joint) error {
	if len(e.Stretches) == 0 {
		return nil
	}
	stretches, err := inventory.Stretches(ctx, tx, j.ID)
	if err != nil {
		return err
	}
	for _, f := range e.Stretches {
		if f.Stretch < 1 || f.Stretch > len(stretches) {
			return store.Invalid("", "the joint has stretches 1 to %d, not %d", len(stretches), f.Stretch)
		}
		f.StretchID = stretches[f.Stretch-1].ID
		e.Feet = append(e.Feet, f.Feet)
	}
	return nil
}

// ReadingEntry is a gap reading as a person or a device gives it, apart from
// an inspection.
type ReadingEntry struct {
	Joint    string `json:"joint"`
	JointUID string `json:"joint_uid,omitempty"`
	Reading
	AcceptOdd bool `json:"accept_odd,omitempty"`
}

// Log puts the reading on record as AddReading does, in any number of tries
// once.
func (e *ReadingEntry) Log(ctx context.Context, tx *store.Tx, today inventory.Date) (o Outcome, err error) {
	j, err := inventory.SameJoint(ctx, tx, e.Joint, e.JointUID)
	if err != nil {
		return o, err
	}
	e.ID = 0
	if e.UID != "" {
		if e.ID, err = tx.IDOf(ctx, "readings", e.UID); err != nil || e.ID != 0 {
			o.Again = e.ID != 0
			return o, err
		}
	}
	o.Odd, err = AddReading(ctx, tx, j, &e.Reading, e.AcceptOdd, today)
	return o, err
}

// newer returns the inspections that count and came on record after one.
func newer(ctx context.Context, tx *store.Tx, jointID, seen int64) (found []Inspection, err error) {
	err = tx.NewSelect().Model(&found).Relation("Feet").
		Where("i.joint_id = ? AND i.id > ? AND i.source = ?", jointID, seen, FromInspection).
		Where("NOT EXISTS (SELECT 1 FROM inspections x WHERE x.replaces_id = i.id)").
		Order("i.id DESC").Scan(ctx)
	return found, err
}
