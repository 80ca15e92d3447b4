package condition

import (
	"context"
	"reflect"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// dossier is all that is on record of a joint when a batch of entries about it
// is judged, entries of the batch included as they are accepted.
type dossier struct {
	joint       inventory.Joint
	bridge      inventory.Bridge
	stretches   []inventory.SealedStretch
	work        []inventory.Work
	inspections []*Inspection  // replaced ones too, in the order of date and key
	replaced    map[int64]bool // keys of inspections
	readings    []Reading      // that count, oldest first
	today       inventory.Date
}

// loadDossiers fetches the dossiers of the joints of a batch with a few queries
// for all, where KnownOf asks for each: on 100,000 rows of as many joints the
// difference is between six queries a row and seven for every 500 rows.
func loadDossiers(ctx context.Context, tx *store.Tx, located []inventory.Located, today inventory.Date) (map[int64]*dossier, error) {
	out := make(map[int64]*dossier)
	var ids []int64
	for _, l := range located {
		if l.Joint != nil && out[l.Joint.ID] == nil {
			out[l.Joint.ID] = &dossier{joint: *l.Joint, bridge: *l.Bridge, replaced: map[int64]bool{}, today: today}
			ids = append(ids, l.Joint.ID)
		}
	}
	if len(ids) == 0 {
		return out, nil
	}
	stretches, err := inventory.StretchesOf(ctx, tx, ids)
	if err != nil {
		return nil, err
	}
	for id, ts := range stretches {
		out[id].stretches = ts
	}
	var work []inventory.Work
	err = tx.NewSelect().Model(&work).Where("joint_id IN (?)", bun.List(ids)).
		Where("NOT EXISTS (SELECT 1 FROM work r WHERE r.replaces_id = w.id)").Order("done_on", "id").Scan(ctx)
	if err != nil {
		return nil, err
	}
	for _, w := range work {
		out[w.JointID].work = append(out[w.JointID].work, w)
	}
	return out, loadSeen(ctx, tx, ids, out)
}

// loadSeen adds what was seen and measured.
func loadSeen(ctx context.Context, tx *store.Tx, ids []int64, out map[int64]*dossier) error {
	var readings []Reading
	if err := tx.NewSelect().Model(&readings).Where("r.joint_id IN (?)", bun.List(ids)).Order("r.read_on", "r.id").Scan(ctx); err != nil {
		return err
	}
	var inspections []*Inspection
	if err := tx.NewSelect().Model(&inspections).Where("i.joint_id IN (?)", bun.List(ids)).Order("i.inspected_on", "i.id").Scan(ctx); err != nil {
		return err
	}
	byID := make(map[int64]*Inspection, len(inspections))
	for _, in := range inspections {
		byID[in.ID] = in
		d := out[in.JointID]
		d.inspections = append(d.inspections, in)
		if in.ReplacesID != 0 {
			d.replaced[in.ReplacesID] = true
		}
	}
	gone := map[int64]bool{}
	for _, r := range readings {
		gone[r.ReplacesID] = true
	}
	for _, r := range readings {
		if !gone[r.ID] {
			out[r.JointID].readings = append(out[r.JointID].readings, r)
		}
		if in := byID[r.InspectionID]; in != nil {
			in.Readings = append(in.Readings, r)
		}
	}
	if len(inspections) == 0 {
		return nil
	}
	const ofJoints = "inspection_id IN (SELECT i.id FROM inspections i WHERE i.joint_id IN (?))"
	var feet []Feet
	if err := tx.NewSelect().Model(&feet).Where(ofJoints, bun.List(ids)).Order("id").Scan(ctx); err != nil {
		return err
	}
	for _, f := range feet {
		byID[f.InspectionID].Feet = append(byID[f.InspectionID].Feet, f)
	}
	var defects []Defect
	if err := tx.NewSelect().Model(&defects).Where(ofJoints, bun.List(ids)).Order("id").Scan(ctx); err != nil {
		return err
	}
	for _, f := range defects {
		byID[f.InspectionID].Defects = append(byID[f.InspectionID].Defects, f)
	}
	return nil
}

// before is what KnownOf gives for an entry of the given day.
func (d *dossier) before(on inventory.Date) *Known {
	k := &Known{Joint: d.joint, Bridge: d.bridge, Stretches: d.stretches, Work: d.work, Readings: d.readings, Today: d.today}
	for _, in := range d.inspections {
		if len(in.Feet) == 0 || d.replaced[in.ID] {
			continue
		}
		if in.InspectedOn.Before(on) && (k.Last == nil || !in.InspectedOn.Before(k.Last.InspectedOn)) {
			k.Last = in
		}
		if on.Before(in.InspectedOn) && (k.Next == nil || in.InspectedOn.Before(k.Next.InspectedOn)) {
			k.Next = in
		}
	}
	return k
}

// add makes an accepted entry known to those that follow it in the batch.
func (d *dossier) add(in *Inspection) {
	d.inspections = append(d.inspections, in)
	for _, r := range in.Readings {
		r.ReadOn = in.InspectedOn
		d.addReading(r)
	}
}

func (d *dossier) addReading(r Reading) {
	at := len(d.readings)
	for at > 0 && r.ReadOn.Before(d.readings[at-1].ReadOn) {
		at--
	}
	d.readings = slices.Insert(d.readings, at, r)
}

// sameContent tells whether two inspections say the same, whatever their keys.
func sameContent(a, b *Inspection) bool {
	return reflect.DeepEqual(content(a), content(b))
}

// content is an inspection without its keys and marks, its parts in an order
// of their own.
func content(in *Inspection) Inspection {
	c := Inspection{
		JointID: in.JointID, InspectedOn: in.InspectedOn, DateKnown: in.DateKnown, Inspector: strings.ToLower(in.Inspector),
		SeenFrom: in.SeenFrom, AccessLimit: in.AccessLimit, Wet: in.Wet, Quick: in.Quick, QuickWorst: in.QuickWorst, Leaking: in.Leaking,
		Photos: in.Photos, Notes: in.Notes,
	}
	for _, f := range in.Feet {
		f.ID, f.InspectionID = 0, 0
		c.Feet = append(c.Feet, f)
	}
	for _, d := range in.Defects {
		d.ID, d.InspectionID = 0, 0
		c.Defects = append(c.Defects, d)
	}
	for _, r := range in.Readings {
		c.Readings = append(c.Readings, measured(r))
	}
	slices.SortStableFunc(c.Feet, func(a, b Feet) int { return int(a.StretchID - b.StretchID) })
	slices.SortStableFunc(c.Defects, func(a, b Defect) int { return (a.Number - b.Number) + 10000*(a.State-b.State) })
	slices.SortStableFunc(c.Readings, func(a, b Reading) int { return strings.Compare(a.Position, b.Position) })
	return c
}

// measured is what a reading says, without its keys and marks.
func measured(r Reading) Reading {
	return Reading{
		Position: r.Position, GapIn: r.GapIn, DeckTempF: r.DeckTempF, AirTempF: r.AirTempF, Faces: r.Faces, DepthIn: r.DepthIn,
		AtInstall: r.AtInstall, Notes: r.Notes,
	}
}
