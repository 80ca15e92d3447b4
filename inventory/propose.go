package inventory

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Propose derives the joints that a bridge is likely to have, from nothing but
// its record. quantities are the bridge's joints that are known only as feet
// for the whole bridge: where there are any, the feet over the length of one
// joint give how many there are. Otherwise simple spans have a joint at each
// support, continuous ones at the abutments. Culverts and bridges under 20 ft
// have none. Nothing here is a survey: people confirm, change or reject it.
// (Common practice, no source.)
func Propose(b *Bridge, quantities []Joint) []Joint {
	length, known := JointLengthFt(b)
	if strings.Contains(b.Design, "culvert") || !known || b.LengthFt == nil || *b.LengthFt < 20 {
		return nil
	}
	var out []Joint
	if len(quantities) == 0 {
		for _, p := range supports(b, proposedCount(b)) {
			out = append(out, proposal(b, p, length))
		}
		return numbered(out)
	}
	for i := range quantities {
		q := &quantities[i]
		if q.LengthFt == nil {
			continue
		}
		n := int(math.Round(*q.LengthFt / length))
		if n < 1 {
			n = 1
		}
		// The feet are what was measured: each joint gets its share of them.
		each := *q.LengthFt / float64(n)
		for _, p := range supports(b, n) {
			j := proposal(b, p, each)
			j.SplitFromID, j.Element = q.ID, q.Element
			out = append(out, j)
		}
	}
	return numbered(out)
}

// proposedCount is how many joints a bridge of this form has.
func proposedCount(b *Bridge) int {
	if b.Continuous != nil && *b.Continuous {
		return 2
	}
	return max(b.Spans(), 1) + 1
}

// support is a place where a joint is likely.
type support struct {
	place       string
	stationFt   float64
	expansionFt float64
}

// supports spreads n joints over the bridge: the abutments first, then piers
// at equal distances. What each takes of the expansion is half of the length
// to its neighbours.
func supports(b *Bridge, n int) []support {
	total := *b.LengthFt
	switch n {
	case 0:
		return nil
	case 1:
		return []support{{"abutment", total, total}}
	}
	out := make([]support, n)
	step := total / float64(n-1)
	for i := range out {
		out[i] = support{"pier", step * float64(i), step}
	}
	out[0].place, out[n-1].place = "abutment", "abutment"
	out[0].expansionFt, out[n-1].expansionFt = step/2, step/2
	return out
}

func proposal(b *Bridge, p support, lengthFt float64) Joint {
	length, station, expansion := math.Round(lengthFt*10)/10, p.stationFt, p.expansionFt
	j := Joint{
		BridgeID: b.ID, Place: p.place, Movement: "expansion", StationFt: &station, LengthFt: &length,
		ExpansionLengthFt: &expansion, ExpansionAssumed: true, Lanes: b.Lanes,
		Scope: ScopeJoint, Origin: Proposed, Status: Proposed,
	}
	if b.SkewDeg != nil {
		skew := *b.SkewDeg
		j.SkewDeg = &skew
	}
	j.Draw(b)
	return j
}

func numbered(joints []Joint) []Joint {
	for i := range joints {
		joints[i].Sequence = i + 1
	}
	return joints
}

// ProposeAll proposes joints for the bridges that f chooses and that have no
// joint of their own yet. It returns how many joints it proposed for how many
// bridges.
func ProposeAll(ctx context.Context, tx *store.Tx, f Filter) (joints, bridges int, err error) {
	var chosen []*Bridge
	if err := EachBridge(ctx, tx, f, func(b *Bridge) error { chosen = append(chosen, b); return nil }); err != nil {
		return 0, 0, err
	}
	on := make(map[int64][]Joint)
	var known []Joint
	if err := tx.NewSelect().Model(&known).Column("id", "bridge_id", "second_bridge_id", "scope", "status", "element", "length_ft").Scan(ctx); err != nil {
		return 0, 0, err
	}
	for _, j := range known {
		on[j.BridgeID] = append(on[j.BridgeID], j)
		if j.SecondBridgeID != 0 {
			on[j.SecondBridgeID] = append(on[j.SecondBridgeID], j)
		}
	}
	for _, b := range chosen {
		quantities, settled := quantitiesOf(on[b.ID])
		if settled {
			continue
		}
		proposed := Propose(b, quantities)
		for i := range proposed {
			j := &proposed[i]
			if err := AddJoint(ctx, tx, j, Seal{Element: j.Element, Kind: kindOf(ctx, tx, j.Element)}); err != nil {
				return 0, 0, err
			}
		}
		joints += len(proposed)
		if len(proposed) > 0 {
			bridges++
		}
	}
	return joints, bridges, nil
}

// quantitiesOf picks the bridge quantities in service; settled says that the
// bridge has joints of its own, proposed or decided, and needs no proposal.
func quantitiesOf(joints []Joint) (quantities []Joint, settled bool) {
	for _, j := range joints {
		switch {
		case j.Scope == ScopeJoint:
			return nil, true
		case j.Status == InService:
			quantities = append(quantities, j)
		}
	}
	return quantities, false
}

func kindOf(ctx context.Context, db bun.IDB, element int) string {
	kind, err := SealKind(ctx, db, element)
	if err != nil {
		return KindOther
	}
	return kind
}

// SealKind is the kind of seal that an element number stands for in the
// agency's table: the standard's 300 to 306, and numbers of its own.
func SealKind(ctx context.Context, db bun.IDB, element int) (string, error) {
	var kinds []string
	err := db.NewRaw("SELECT kind FROM seal_kinds WHERE element = ?", element).Scan(ctx, &kinds)
	if err != nil {
		return "", err
	}
	if len(kinds) == 0 {
		return KindOther, nil
	}
	return kinds[0], nil
}

// Decide confirms or rejects a proposed joint. When the last proposal from a
// bridge quantity has been decided and at least one was confirmed, the
// quantity is marked as split; its history stays, and the joints look back to
// it.
func Decide(ctx context.Context, tx *store.Tx, j *Joint, confirm bool, on Date) error {
	if j.Status != Proposed {
		return store.Invalid("", "joint %s is not proposed, it is %s", j.Tag, j.Status)
	}
	j.Status, j.StatusOn = Rejected, on
	if confirm {
		j.Status = InService
	}
	if err := SaveJoint(ctx, tx, j); err != nil {
		return err
	}
	if j.SplitFromID == 0 {
		return nil
	}
	var open, confirmed int
	err := tx.NewRaw("SELECT count(*) FILTER (WHERE status = ?), count(*) FILTER (WHERE status = ?) FROM joints WHERE split_from_id = ?",
		Proposed, InService, j.SplitFromID).Scan(ctx, &open, &confirmed)
	if err != nil || open > 0 || confirmed == 0 {
		return err
	}
	whole := &Joint{ID: j.SplitFromID}
	if err := tx.NewSelect().Model(whole).WherePK().Scan(ctx); err != nil {
		return fmt.Errorf("read the quantity of joint %s: %w", j.Tag, err)
	}
	whole.Status, whole.StatusOn = Split, on
	return SaveJoint(ctx, tx, whole)
}

// DecideAll confirms or rejects the proposed joints that f chooses, and returns
// how many.
func DecideAll(ctx context.Context, tx *store.Tx, f Filter, confirm bool, on Date) (int, error) {
	f.Status = Proposed
	var tags []string
	if err := EachJoint(ctx, tx, f, func(j *JointRow) error { tags = append(tags, j.Tag); return nil }); err != nil {
		return 0, err
	}
	for _, tag := range tags {
		j, err := FindJoint(ctx, tx, tag)
		if err == nil {
			err = Decide(ctx, tx, j, confirm, on)
		}
		if err != nil {
			return 0, err
		}
	}
	return len(tags), nil
}

// SplitQuantity proposes n joints for a bridge quantity whose number people
// know better than Propose does.
func SplitQuantity(ctx context.Context, tx *store.Tx, q *Joint, b *Bridge, n int) ([]Joint, error) {
	switch {
	case q.Scope != ScopeQuantity:
		return nil, store.Invalid("", "joint %s is one joint already, not a quantity for the whole bridge", q.Tag)
	case q.Status != InService:
		return nil, store.Invalid("", "joint %s is %s", q.Tag, q.Status)
	case n < 1 || n > 200:
		return nil, store.Invalid("give a number from 1 to 200", "%d joints cannot be", n)
	case q.LengthFt == nil:
		return nil, store.Invalid("", "joint %s has no length to split", q.Tag)
	}
	if open, err := tx.NewSelect().Model((*Joint)(nil)).Where("split_from_id = ? AND status = ?", q.ID, Proposed).Count(ctx); err != nil || open > 0 {
		return nil, orElse(err, store.Invalid("confirm or reject those first", "joint %s has %d proposed joints already", q.Tag, open))
	}
	var places []support
	if b.LengthFt != nil {
		places = supports(b, n)
	} else {
		places = make([]support, n)
		for i := range places {
			places[i].place = "unknown"
		}
	}
	out := make([]Joint, n)
	for i, p := range places {
		out[i] = proposal(b, p, *q.LengthFt/float64(n))
		out[i].SplitFromID, out[i].Element, out[i].Sequence = q.ID, q.Element, i+1
		if err := AddJoint(ctx, tx, &out[i], Seal{Element: q.Element, Kind: kindOf(ctx, tx, q.Element)}); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func orElse(err, other error) error {
	if err != nil {
		return err
	}
	return other
}
