package condition

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"reseal/inventory"
	"reseal/inventory/store"
)

// Log judges an inspection and puts it on record. What cannot be right is
// refused; what is merely odd is refused too unless acceptOdd says that the
// inspector looked again, and is then kept with a mark. It returns what was
// odd.
func Log(ctx context.Context, tx *store.Tx, j *inventory.Joint, in *Inspection, acceptOdd bool, today inventory.Date) (odd []string, err error) {
	if j.Status != inventory.InService {
		return nil, store.Invalid("", "joint %s is %s", j.Tag, j.Status)
	}
	in.JointID = j.ID
	k, err := KnownOf(ctx, tx, j, in.InspectedOn, today)
	if err != nil {
		return nil, err
	}
	in.seenFromBelow(k)
	odd, err = Judge(in, k)
	if err != nil {
		return nil, err
	}
	if len(odd) > 0 && !acceptOdd {
		return odd, &store.Error{
			Kind: store.ErrInvalid, Text: "odd: " + strings.Join(odd, "; "),
			Hint: "look again; if it is right, say so with --accept-odd and it is kept with a mark",
		}
	}
	return odd, save(ctx, tx, in, odd)
}

// seenFromBelow keeps an inspection from below from inventing a condition on
// top: feet that it does not give were not seen.
func (in *Inspection) seenFromBelow(k *Known) {
	if in.SeenFrom != "below" || len(in.Feet) > 0 {
		return
	}
	for _, t := range k.Stretches {
		in.Feet = append(in.Feet, Feet{StretchID: t.ID, NotSeenFt: t.LengthFt()})
	}
}

// Replace logs a correction of an inspection on record.
func Replace(ctx context.Context, tx *store.Tx, j *inventory.Joint, old int64, in *Inspection, acceptOdd bool, today inventory.Date) ([]string, error) {
	n, err := tx.NewSelect().Model((*Inspection)(nil)).Where("i.id = ? AND i.joint_id = ?", old, j.ID).Count(ctx)
	if err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, store.NotFound("see them with: reseal joint show "+j.Tag, "joint %s has no inspection %d", j.Tag, old)
	}
	var by int64
	if err := tx.NewRaw("SELECT coalesce(max(id), 0) FROM inspections WHERE replaces_id = ?", old).Scan(ctx, &by); err != nil {
		return nil, err
	}
	if by != 0 {
		return nil, store.Invalid(fmt.Sprintf("correct that one: --replaces %d", by), "inspection %d of joint %s was replaced by %d already", old, j.Tag, by)
	}
	in.ReplacesID = old
	return Log(ctx, tx, j, in, acceptOdd, today)
}

// AddReading judges a reading taken apart from an inspection and puts it on
// record.
func AddReading(ctx context.Context, tx *store.Tx, j *inventory.Joint, r *Reading, acceptOdd bool, today inventory.Date) (odd []string, err error) {
	k, err := KnownOf(ctx, tx, j, r.ReadOn, today)
	if err != nil {
		return nil, err
	}
	if err := impossibleDate(r.ReadOn, k); err != nil {
		return nil, err
	}
	if err := ImpossibleReading(r); err != nil {
		return nil, err
	}
	if r.ReplacesID != 0 && !slices.ContainsFunc(k.Readings, func(old Reading) bool { return old.ID == r.ReplacesID }) {
		return nil, store.NotFound("see them with: reseal joint show "+j.Tag, "joint %s has no reading %d to correct", j.Tag, r.ReplacesID)
	}
	if odd = OddReading(r, k); len(odd) > 0 && !acceptOdd {
		return odd, store.Invalid("measure again; if it is right, say so with --accept-odd", "odd: %s", strings.Join(odd, "; "))
	}
	r.JointID, r.Odd, r.UID, r.CreatedAt, r.CreatedBy = j.ID, strings.Join(odd, "\n"), tx.NewUID(), tx.At, tx.Actor
	_, err = tx.NewInsert().Model(r).Exec(ctx)
	return odd, err
}
