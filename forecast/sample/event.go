package sample

import (
	"math"

	"reseal/inventory"
)

// events are what happens to a joint in a quarter of a year: a leak reported,
// a plough strike, a repair, a new seal.
func (l *life) events(on inventory.Date, recorded bool) error {
	n := l.n
	failed := 0
	for _, w := range l.worn {
		if w >= 3 {
			failed++
		}
	}
	switch {
	case failed == pieces && n.chance(0.4), failed > 0 && n.chance(0.13):
		return l.renew(on, recorded)
	case failed == 1 && n.chance(0.03):
		return l.repair(on, recorded)
	case recorded && failed > 0 && n.chance(0.03):
		return l.find(on, pick(n, "leak", "damage below", "complaint"), pick(n, "routine", "soon"))
	case recorded && l.bridge.Deicing == "heavy" && n.chance(0.003):
		return l.find(on, "plough strike", "severe")
	case recorded && n.chance(0.001):
		return l.find(on, inventory.PlatePlaced, "soon")
	}
	return nil
}

// renew puts a new seal in.
func (l *life) renew(on inventory.Date, recorded bool) error {
	n := l.n
	old := l.seal
	old.RemovedOn, old.RemovedWhy, old.Stamp = on, pick(n, "wear", "wear", "wear", "plough", "movement", "installation fault"), n.tx.Created()
	if err := n.seals.Add(old); err != nil {
		return err
	}
	if err := l.newSeal(on); err != nil {
		return err
	}
	if !recorded {
		return nil
	}
	if l.seal.InstalledOn.IsZero() { // what was done under record has a date
		l.seal.InstalledOn, l.seal.InstalledPrecision = on, "day"
	}
	cost := int64(math.Round((350000+*l.joint.LengthFt*n.between(12000, 22000))/100) * 100)
	l.seal.CostCents = &cost
	n.made.Work++
	return n.work.Add(&inventory.Work{
		ID: n.work.NewID(), UID: n.tx.NewUID(), JointID: l.joint.ID, DoneOn: on, Treatment: "reseal", NewSeal: true, CostCents: &cost,
		ByWhom: l.seal.InstalledBy, Notes: "invented", CreatedAt: n.tx.At, CreatedBy: n.tx.Actor,
	})
}

// repair mends the worst third of the joint.
func (l *life) repair(on inventory.Date, recorded bool) error {
	n := l.n
	for i := range l.worn {
		if l.worn[i] >= 3 {
			l.worn[i] = 0
			break
		}
	}
	if !recorded {
		return nil
	}
	n.made.Work++
	to := round(*l.joint.LengthFt/pieces, 0.5)
	return n.work.Add(&inventory.Work{
		ID: n.work.NewID(), UID: n.tx.NewUID(), JointID: l.joint.ID, DoneOn: on, Treatment: "spot repair", ToFt: &to,
		CostCents: ptr(int64(300000+to*n.between(6000, 18000)) / 100 * 100), ByWhom: "in-house", Notes: "invented", CreatedAt: n.tx.At, CreatedBy: n.tx.Actor,
	})
}

// find puts a finding on record; most are closed within months, plates stay.
func (l *life) find(on inventory.Date, kind, urgency string) error {
	n := l.n
	from := round(n.between(0, *l.joint.LengthFt*0.8), 1)
	f := &inventory.Finding{
		ID: n.findings.NewID(), UID: n.tx.NewUID(), JointID: l.joint.ID, Kind: kind, FoundOn: on, Urgency: urgency,
		Source: pick(n, "maintenance crew", "public", "inspection"), FromFt: &from, ToFt: ptr(math.Min(*l.joint.LengthFt, from+4)),
		Notes: "invented", Stamp: n.tx.Created(),
	}
	closed := on.AddDays(14 + n.IntN(200))
	if closed.Before(n.today) && (n.chance(0.9) || on.Before(n.today.AddDays(-400))) {
		f.ClosedOn, f.ClosedNote = closed, "seen to"
	}
	n.made.Findings++
	return n.findings.Add(f)
}
