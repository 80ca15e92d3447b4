package inventory

import "errors"

// divide makes stretches of their own of the feet from and to of a stretch
// that closes its whole joint with one seal, as work in half widths does. The
// rest keeps the seal that is in it. A stretch that has been inspected, or
// whose seal is older than the work, ends on the day of the work, with what is
// on record of it; otherwise it becomes the first of the new ones.
func (im *sealImport) divide(t *SealedStretch, from, to float64, stage string, on Date, inspected bool) ([]SealedStretch, error) {
	now := t.Current()
	parts := [][2]float64{{t.FromFt, from}, {from, to}, {to, t.ToFt}}
	ends := inspected || now != nil && !now.InstalledOn.IsZero() && now.InstalledOn.Before(on)
	var out []SealedStretch
	var err error
	if ends {
		err = im.end(&t.Stretch, now, on)
	} else {
		t.FromFt, t.ToFt, t.Stage = from, to, stage
		im.tx.Changed(&t.Stamp)
		err = im.stretches.Update(&t.Stretch)
	}
	for i, p := range parts {
		middle := i == 1
		switch {
		case err != nil:
			return nil, err
		case p[1]-p[0] <= nearFt:
			continue
		case middle && !ends:
			out = append(out, *t)
			continue
		}
		part := SealedStretch{Stretch: Stretch{
			ID: im.stretches.NewID(), UID: im.tx.NewUID(), JointID: t.JointID, FromFt: p[0], ToFt: p[1], Stamp: im.tx.Created(),
		}}
		if middle {
			part.Stage = stage
		}
		err = im.stretches.Add(&part.Stretch)
		if err == nil && now != nil && !middle {
			seal := *now
			seal.ID, seal.UID, seal.StretchID, seal.Stamp = im.seals.NewID(), im.tx.NewUID(), part.ID, im.tx.Created()
			seal.RemovedOn, seal.RemovedWhy = Date{}, ""
			part.Seals = []Seal{seal}
			im.carried[seal.ID] = true
			err = im.seals.Add(&seal)
		}
		out = append(out, part)
	}
	return out, err
}

// end closes a stretch and the seal in it on the day that it was divided.
func (im *sealImport) end(t *Stretch, now *Seal, on Date) error {
	ended := *t
	ended.EndedOn = on
	im.tx.Changed(&ended.Stamp)
	if now == nil {
		return im.stretches.Update(&ended)
	}
	out := *now
	out.RemovedOn, out.RemovedWhy = on, Divided
	im.tx.Changed(&out.Stamp)
	return errors.Join(im.stretches.Update(&ended), im.seals.Update(&out))
}

// Divided is why a seal ends whose stretch was divided: it goes on in those of
// the new stretches that keep it.
const Divided = "stretch divided"

// sameWork tells whether two seals went in within a season of each other.
func sameWork(a, b *Seal) bool {
	years := a.InstalledOn.YearsSince(b.InstalledOn)
	return years < 1 && years > -1
}
