package condition

import (
	"context"
	"fmt"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
	"reseal/inventory/store"
)

// AsBuilt is what a crew brings back: the seal that went in, and the openings
// read when it did.
type AsBuilt struct {
	On        inventory.Date
	Seal      inventory.Seal // kind, size, limits, product, lot, recess
	Stretch   int            // the number of the stretch, from 1; 0: all
	Treatment string         // blank: reseal
	CostCents *int64
	ByWhom    string // in-house or contract
	Contract  string
	Why       string // why the old seal came out
	Notes     string
	Readings  []FieldReading
}

// Record puts a new seal on record: the old one ends its life, the work and
// the readings at installation are kept, and the next life begins. What cannot
// be right is refused; odd readings are refused too unless acceptOdd says that
// somebody measured again. It returns what was odd.
func (a *AsBuilt) Record(ctx context.Context, tx *store.Tx, j *inventory.Joint, acceptOdd bool, today inventory.Date) (odd []string, err error) {
	if j.Status != inventory.InService {
		return nil, store.Invalid("", "joint %s is %s", j.Tag, j.Status)
	}
	k, err := KnownOf(ctx, tx, j, a.On, today)
	if err != nil {
		return nil, err
	}
	if err := impossibleDate(a.On, k); err != nil {
		return nil, err
	}
	stretches, err := a.stretches(k)
	if err != nil {
		return nil, err
	}
	var readings []*Reading
	for i := range a.Readings {
		m := a.Readings[i]
		m.AtInstall = true
		r, err := m.Reading(j, &k.Bridge)
		if err != nil {
			return nil, err
		}
		r.ReadOn = a.On
		readings = append(readings, r)
	}
	if again := a.again(stretches); len(again) > 0 && !acceptOdd {
		return again, store.Invalid("nothing to do if it is the same seal; if another went in that day, say so with --accept-odd", "odd: %s", strings.Join(again, "; "))
	}
	a.noteOpening(readings)
	for i := range stretches {
		s := a.Seal
		if err := inventory.ReplaceSeal(ctx, tx, &stretches[i], &s, a.Why); err != nil {
			return nil, err
		}
	}
	if err := inventory.AddWork(ctx, tx, a.work(j, stretches)); err != nil {
		return nil, err
	}
	for _, r := range readings {
		marks, err := AddReading(ctx, tx, j, r, acceptOdd, today)
		if err != nil {
			return nil, err
		}
		odd = append(odd, marks...)
	}
	return odd, nil
}

// again finds the seals in place that went in on the very day: entered twice,
// a seal would have a life of no days and its work be paid for twice.
func (a *AsBuilt) again(stretches []inventory.SealedStretch) (odd []string) {
	for i := range stretches {
		old := stretches[i].Current()
		if old != nil && old.InstalledPrecision == "day" && old.InstalledOn == a.On {
			odd = append(odd, fmt.Sprintf("a %s that went in on %s is on record already", old.Kind, a.On))
		}
	}
	return odd
}

func (a *AsBuilt) stretches(k *Known) ([]inventory.SealedStretch, error) {
	switch n := len(k.Stretches); {
	case a.Seal.Kind == "":
		return nil, store.Invalid("name it with --seal or --kind", "the kind of seal that went in is missing")
	case a.Stretch == 0:
		return k.Stretches, nil
	case a.Stretch < 1 || a.Stretch > n:
		return nil, store.Invalid("", "the joint has stretches 1 to %d, not %d", n, a.Stretch)
	default:
		return k.Stretches[a.Stretch-1 : a.Stretch], nil
	}
}

// noteOpening notes the mean opening and deck temperature with the seal.
func (a *AsBuilt) noteOpening(readings []*Reading) {
	var gap, temp, n, temps float64
	for _, r := range readings {
		gap += r.GapIn
		n++
		if r.DeckTempF != nil {
			temp += *r.DeckTempF
			temps++
		}
	}
	a.Seal.InstalledOn, a.Seal.InstalledBy, a.Seal.Contract = a.On, a.ByWhom, a.Contract
	a.Seal.InstalledPrecision = "day"
	if n > 0 {
		gap /= n
		a.Seal.InstalledGapIn = &gap
	}
	if temps > 0 {
		temp /= temps
		a.Seal.InstalledDeckTempF = &temp
	}
}

func (a *AsBuilt) work(j *inventory.Joint, stretches []inventory.SealedStretch) *inventory.Work {
	w := &inventory.Work{
		JointID: j.ID, DoneOn: a.On, Treatment: a.Treatment, NewSeal: true, CostCents: a.CostCents,
		ByWhom: a.ByWhom, Contract: a.Contract, Notes: a.Notes,
	}
	if w.Treatment == "" {
		w.Treatment = "reseal"
	}
	if a.Stretch > 0 {
		t := &stretches[0]
		w.FromFt, w.ToFt = t.FromFt, &t.ToFt
		w.Notes = fmt.Sprintf("stretch %d", a.Stretch)
		if a.Notes != "" {
			w.Notes += "; " + a.Notes
		}
	}
	return w
}

// NameSeal fills in kind, size and limits from the catalogue's row of a name.
// What was given by itself stays; a blank name fills nothing in.
func NameSeal(ctx context.Context, db bun.IDB, s *inventory.Seal, name string) error {
	if name == "" {
		return nil
	}
	catalogue, err := LoadCatalogue(ctx, db)
	if err != nil {
		return err
	}
	row, ok := catalogue.Named(name)
	if !ok {
		return store.Invalid("give KIND, SIZE as in: reseal settings table list seal_catalogue", "%q is not one seal of the catalogue", name)
	}
	if s.Kind == "" {
		s.Kind = SealKindOf(row.Kind)
	}
	if s.Size == "" {
		s.Size = row.Size
		if row.OpenShare > 0 || row.MovementShare > 0 { // "pourable seal" does not tell the material
			s.Size = string(row.Kind)
		}
	}
	if m := row.LimitsAt(0); m.Known() && s.MaxOpenIn == nil && row.OpenShare == 0 {
		s.MinOpenIn, s.MaxOpenIn = &m.MinIn, &m.MaxIn
	}
	return nil
}
