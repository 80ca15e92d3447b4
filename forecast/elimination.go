package forecast

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/condition/opening"
	"reseal/forecast/strategy"
	"reseal/inventory"
	"reseal/inventory/store"
)

// TakeOver is a joint that is to take over expansion length from one that is
// eliminated.
type TakeOver struct {
	Tag    string
	NowFt  float64 // expansion length that it has
	MoreFt float64 // that it takes over
	Check  opening.Check
}

// TakeOvers checks the joints that are to take over the expansion length of one
// that is eliminated, in equal parts. Each must pass: it is another joint of the
// bridge that takes movement, has a gap reading and a seal whose limits are on
// record, and its opening stays within them on the coldest and the hottest day.
//
// The opening is that of the latest reading, and from there the joint moves by what
// its readings and theory say, times the new length over the old: as if the deck
// were made continuous at the temperature of that reading. A joint that does not move hands nothing over and needs none. It
// is a check for planning; the design of the link is an engineer's.
func TakeOvers(ctx context.Context, db bun.IDB, rules *condition.GapRules, jointID int64, tags []string, asOf inventory.Date) ([]TakeOver, error) {
	from, err := condition.OneGap(ctx, db, rules, jointID, asOf)
	if err != nil {
		return nil, err
	}
	if from == nil {
		return nil, store.NotFound("list the joints with: reseal joint list", "there is no joint %d", jointID)
	}
	feet := from.Theory.ExpansionLengthFt
	switch {
	case from.Theory.Still && len(tags) == 0:
		return nil, nil
	case len(tags) == 0:
		return nil, store.Invalid("name them with --takes-over J000124,J000125", "joint %s moves: which joints take over its expansion length?", from.Tag)
	case feet == 0:
		return nil, store.Invalid("reseal joint edit "+from.Tag+" --expansion-length-ft FEET", "joint %s has no expansion length on record to hand over", from.Tag)
	}
	var out []TakeOver
	for _, tag := range tags {
		t, err := takeOver(ctx, db, rules, from, tag, feet/float64(len(tags)), asOf)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(out, func(o TakeOver) bool { return o.Tag == t.Tag }) {
			return nil, store.Invalid("name each once", "joint %s is named twice", t.Tag)
		}
		out = append(out, t)
	}
	return out, nil
}

func takeOver(ctx context.Context, db bun.IDB, rules *condition.GapRules, from *condition.Gap, tag string, moreFt float64, asOf inventory.Date) (t TakeOver, err error) {
	j, err := inventory.FindJoint(ctx, db, tag)
	if err != nil {
		return t, err
	}
	if j.ID == from.ID || j.BridgeID != from.Bridge.ID {
		return t, store.Invalid("name another joint of its bridge", "joint %s cannot take over from %s", j.Tag, from.Tag)
	}
	g, err := condition.OneGap(ctx, db, rules, j.ID, asOf)
	if err != nil {
		return t, err
	}
	see := "see reseal gap " + j.Tag
	switch {
	case g == nil || g.Problem != "":
		why := "it is not in service"
		if g != nil {
			why = g.Problem
		}
		return t, store.Invalid(see, "joint %s cannot take over: its opening cannot be checked: %s", j.Tag, why)
	case g.Theory.Still:
		return t, store.Invalid("name an expansion joint", "joint %s cannot take over: it is fixed", j.Tag)
	case !g.Limits.Known():
		return t, store.Invalid(see, "joint %s cannot take over: the limits of its seal are not on record", j.Tag)
	}
	t = TakeOver{Tag: g.Tag, NowFt: g.Theory.ExpansionLengthFt, MoreFt: moreFt}
	theory := g.Theory
	theory.ExpansionLengthFt += moreFt
	times := theory.ExpansionLengthFt / g.Theory.ExpansionLengthFt
	theory.ShrinkageIn *= times
	last := slices.MaxFunc(g.Readings, func(a, b opening.Reading) int { return cmp.Compare(a.Year, b.Year) })
	readings := slices.Clone(g.Readings)
	for i := range readings {
		readings[i].GapIn = last.GapIn + times*(readings[i].GapIn-last.GapIn)
	}
	line, err := opening.Fit(theory, readings, rules.Opening())
	if err != nil {
		return t, fmt.Errorf("joint %s with %.0f ft more: %w", g.Tag, moreFt, err)
	}
	t.Check = line.Judge(g.Limits, asOf.DecimalYear(), rules.Opening())
	if t.Check.Findings.NeedsAttention() {
		return t, store.Invalid("find a seal that fits with: reseal gap "+g.Tag+" --seal; or name other joints",
			"joint %s cannot take over %.0f ft: %s (to spare %.2f in when cold, %.2f in when hot)", g.Tag, moreFt,
			strings.Join(condition.FindingWords(t.Check.Findings&^(opening.OneReading|opening.CannotTell)), ", "), t.Check.Cold.MeanIn, t.Check.Hot.MeanIn)
	}
	return t, nil
}

// eliminates tells whether a treatment is one that removes the joint.
func (t *Tables) eliminates(treatment string) bool {
	return slices.ContainsFunc(t.Treatments, func(r Treatment) bool {
		return r.Name == treatment && r.effect() == strategy.Removes
	})
}

// CheckElimination holds a decision for a treatment that removes the joint to
// TakeOvers, and notes in it who takes over. Other decisions pass as they are.
func (t *Tables) CheckElimination(ctx context.Context, db bun.IDB, d *Decision, takesOver []string, asOf inventory.Date) ([]TakeOver, error) {
	if !t.eliminates(d.Treatment) {
		if len(takesOver) > 0 {
			return nil, store.Invalid("it goes with a treatment that removes the joint", "--takes-over does not go with %s", d.Words())
		}
		return nil, nil
	}
	over, err := TakeOvers(ctx, db, t.Gaps, d.JointID, takesOver, asOf)
	var tags []string
	for _, o := range over {
		tags = append(tags, o.Tag)
	}
	d.TakesOver = strings.Join(tags, "; ")
	return over, err
}

// HandOver moves the expansion length of an eliminated joint, in equal parts, to
// the joints that its standing decision names, and returns how much each has now.
// Without such a decision nothing moves.
func HandOver(ctx context.Context, tx *store.Tx, joint *inventory.Joint) (feet map[string]float64, err error) {
	var standing []Decision
	if err := tx.NewSelect().Model(&standing).Where("joint_id = ? AND ended_on IS NULL AND takes_over <> ''", joint.ID).Order("id DESC").Limit(1).Scan(ctx); err != nil {
		return nil, err
	}
	if len(standing) == 0 || joint.ExpansionLengthFt == nil {
		return nil, nil
	}
	feet = map[string]float64{}
	tags := strings.Split(standing[0].TakesOver, "; ")
	for _, tag := range tags {
		j, err := inventory.FindJoint(ctx, tx, tag)
		if err != nil {
			return nil, err
		}
		if j.ExpansionLengthFt == nil {
			return nil, store.Invalid("reseal joint edit "+tag+" --expansion-length-ft FEET", "joint %s has no expansion length on record to add to", tag)
		}
		whole := *j.ExpansionLengthFt + *joint.ExpansionLengthFt/float64(len(tags))
		j.ExpansionLengthFt = &whole
		if err := inventory.SaveJoint(ctx, tx, j); err != nil {
			return nil, err
		}
		feet[tag] = whole
	}
	return feet, nil
}
