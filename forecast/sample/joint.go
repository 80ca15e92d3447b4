package sample

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"reseal/condition"
	"reseal/inventory"
)

// paceK says how unlike joints of one kind wear: the variance of their pace is
// 1/k.
const paceK = 4

// pieces of a joint wear independently of each other.
const pieces = 3

// alpha is the expansion of steel and concrete per °F, AASHTO LRFD 6.4.1 and
// 5.4.2.2 (from memory).
var alpha = map[string]float64{"steel": 6.5e-6, "concrete": 6.0e-6, "prestressed concrete": 6.0e-6}

// life is one joint as it lives through the years.
type life struct {
	n       *network
	bridge  *inventory.Bridge
	joint   *inventory.Joint
	stretch *inventory.Stretch
	seal    *inventory.Seal
	pace    float64
	worn    [pieces]float64 // how far each piece has come, in states from 0 to 3
	refIn   float64         // gap at 64 °F when new
	slope   float64         // in/°F
	creep   float64         // in/year
}

// joint invents one joint with its seals, inspections and all that happened.
func (n *network) joint(b *inventory.Bridge, j *inventory.Joint) error {
	j.ID, j.UID, j.BridgeID, j.Stamp = n.joints.NewID(), n.tx.NewUID(), b.ID, n.tx.Created()
	j.Tag, j.Origin, j.Status, j.ExpansionAssumed = inventory.TagFor(j.ID), "entered", inventory.InService, false
	j.Below, j.Notes = b.FeatureIntersected, "invented"
	if j.Place == "pier" && n.chance(0.3) {
		j.Movement, j.ExpansionLengthFt = "fixed", ptr(0.0)
	}
	n.made.Joints++
	if err := n.joints.Add(j); err != nil {
		return err
	}
	t := &inventory.Stretch{ID: n.stretches.NewID(), UID: n.tx.NewUID(), JointID: j.ID, ToFt: *j.LengthFt, Stamp: n.tx.Created()}
	if err := n.stretches.Add(t); err != nil {
		return err
	}
	l := &life{n: n, bridge: b, joint: j, stretch: t, pace: distuv.Gamma{Alpha: paceK, Beta: paceK, Src: n}.Rand()}
	l.move()
	return l.live()
}

// move decides how the joint opens and closes: a few are frozen, a few drift.
func (l *life) move() {
	l.refIn = l.n.between(1.4, 2.2)
	if l.joint.Movement == "expansion" {
		l.slope = -12 * alpha[l.bridge.Material] * *l.joint.ExpansionLengthFt * math.Cos(*l.joint.SkewDeg*math.Pi/180)
	}
	switch {
	case l.n.chance(0.03):
		l.slope = 0
	case l.n.chance(0.04):
		l.creep = l.n.between(-0.06, -0.02)
	}
}

// live takes the joint from its first seal on record to today.
func (l *life) live() error {
	n := l.n
	start := n.today.AddDays(-int(n.between(365*10, 365*22)))
	if start.Year < l.bridge.YearBuilt {
		start = inventory.Date{Year: l.bridge.YearBuilt, Month: 9, Day: 1}
	}
	if err := l.newSeal(start); err != nil {
		return err
	}
	records := n.today.AddDays(-3653) // ten years of inspections
	on := start
	next := records.AddDays(n.IntN(730))
	for on.Before(n.today) {
		step := on.AddDays(91)
		l.wear(step.YearsSince(on))
		on = step
		if !on.Before(n.today) {
			break
		}
		if err := l.events(on, records.Before(on)); err != nil {
			return err
		}
		if !on.Before(next) {
			next = on.AddDays(n.IntN(120) + 650)
			if n.chance(0.05) { // a cycle is missed now and then
				continue
			}
			if err := l.inspect(on.AddDays(-n.IntN(60))); err != nil {
				return err
			}
		}
	}
	l.seal.Stamp = n.tx.Created()
	return n.seals.Add(l.seal)
}

// newSeal begins a seal's life.
func (l *life) newSeal(on inventory.Date) error {
	n := l.n
	kind := "strip seal"
	switch travel := math.Abs(l.slope) * 120; {
	case l.joint.Movement == "fixed":
		kind = pick(n, "pourable seal", "compression seal")
	case travel > 4:
		kind = "modular joint"
	case travel < 0.6:
		kind = pick(n, "pourable seal", "compression seal", "foam seal", "strip seal")
	case travel < 1.6:
		kind = pick(n, "strip seal", "preformed gland", "compression seal")
	}
	limits := map[string][2]float64{
		"strip seal": {0.5, 4}, "preformed gland": {0.75, 3}, "compression seal": {1.0, 2.4}, "pourable seal": {0.8, 3.2}, "foam seal": {0.8, 2.6}, "modular joint": {1, 14},
	}[kind]
	temp := round(n.between(45, 75), 1)
	l.seal = &inventory.Seal{
		ID: n.seals.NewID(), UID: n.tx.NewUID(), StretchID: l.stretch.ID, Kind: kind, MinOpenIn: ptr(limits[0]), MaxOpenIn: ptr(limits[1]),
		Header: pick(n, "elastomeric concrete", "steel armour", "concrete"), InstalledOn: on, InstalledPrecision: "day",
		InstalledBy: pick(n, "in-house", "contract"), Notes: "invented",
	}
	switch {
	case n.chance(0.12): // nobody knows any more
		l.seal.InstalledOn, l.seal.InstalledPrecision = inventory.Date{}, ""
	case n.chance(0.15):
		l.seal.InstalledOn, l.seal.InstalledPrecision = inventory.Date{Year: on.Year, Month: 1, Day: 1}, "year"
	default:
		l.seal.InstalledDeckTempF, l.seal.InstalledGapIn = ptr(temp), ptr(l.gap(on, temp))
	}
	if l.seal.InstalledBy == "contract" && !l.seal.InstalledOn.IsZero() {
		l.seal.WarrantyUntil = l.seal.InstalledOn.AddMonths(24)
	}
	l.worn = [pieces]float64{}
	return nil
}

// wear takes each piece on through the chain for so many years.
func (l *life) wear(years float64) {
	rates := l.n.wear[l.seal.Kind]
	for i := range l.worn {
		for left := years; l.worn[i] < 3; {
			stay := l.n.ExpFloat64() / (rates[int(l.worn[i])] * l.pace)
			if stay > left {
				break
			}
			left -= stay
			l.worn[i]++
		}
	}
}

// gap is what a tape reads, square to the joint, to 1/16 in.
func (l *life) gap(on inventory.Date, deckTempF float64) float64 {
	years := on.YearsSince(inventory.Date{Year: 2015, Month: 1, Day: 1})
	lag := l.n.NormFloat64() * 6 // the bridge is not all at one temperature
	g := l.refIn + l.slope*(deckTempF+lag-64) + l.creep*years + l.n.NormFloat64()/16
	return math.Max(0.0625, round(g, 1.0/16))
}

// stateFt is the whole feet in each state as an inspector counts them.
func (l *life) stateFt() (ft [4]float64) {
	length := *l.joint.LengthFt
	for _, w := range l.worn {
		ft[int(w)] += length / pieces
	}
	sum := 0.0
	for s := 3; s > 0; s-- {
		ft[s] = math.Min(math.Round(ft[s]), length-sum)
		sum += ft[s]
	}
	ft[0] = length - sum
	return ft
}

// worst is the worst state of a piece, 1 to 4.
func (l *life) worst() int {
	w := 0.0
	for _, v := range l.worn {
		w = math.Max(w, v)
	}
	return int(w) + 1
}

// inspect looks at the joint.
func (l *life) inspect(on inventory.Date) error {
	n := l.n
	in := &condition.Inspection{
		ID: n.inspections.NewID(), UID: n.tx.NewUID(), JointID: l.joint.ID, InspectedOn: on, DateKnown: condition.OnDay,
		Source: condition.FromInspection, Inspector: pick(n, "invented inspector A", "invented inspector B", "invented inspector C"),
		SeenFrom: pick(n, "top", "top", "both"), Notes: "invented", CreatedAt: n.tx.At, CreatedBy: n.tx.Actor,
	}
	if n.chance(0.03) { // quick entry in the rain
		in.Quick, in.QuickWorst, in.Leaking = true, l.worst(), ptr(l.worst() > 2)
	}
	n.made.Inspections++
	if err := n.inspections.Add(in); err != nil || in.Quick {
		return err
	}
	ft := l.stateFt()
	if n.chance(0.05) && ft[1] > 4 { // two inspectors do not see the same
		moved := math.Round(ft[1] / 2)
		ft[1], ft[pick(n, 0, 2)] = ft[1]-moved, ft[0]+moved
		ft[0] = math.Max(0, *l.joint.LengthFt-ft[1]-ft[2]-ft[3])
		ft[2] = math.Max(0, *l.joint.LengthFt-ft[0]-ft[1]-ft[3])
	}
	for s := range ft {
		ft[s] = round(ft[s], 0.001)
	}
	f := &condition.Feet{ID: n.feet.NewID(), InspectionID: in.ID, StretchID: l.stretch.ID, CS1Ft: ft[0], CS2Ft: ft[1], CS3Ft: ft[2], CS4Ft: ft[3]}
	if n.chance(0.04) && f.CS1Ft > 12 { // under debris or a parked truck
		f.CS1Ft, f.NotSeenFt = round(f.CS1Ft-8, 0.001), 8
	}
	if err := n.feet.Add(f); err != nil {
		return err
	}
	if l.worst() > 2 {
		d := &condition.Defect{
			ID: n.defects.NewID(), InspectionID: in.ID, StretchID: l.stretch.ID,
			Number: pick(n, 2310, 2320, 2330, 2350), State: condition.Worst(f.States()),
		}
		if err := n.defects.Add(d); err != nil {
			return err
		}
	}
	return l.read(in)
}

// read measures the gap at most inspections.
func (l *life) read(in *condition.Inspection) error {
	n := l.n
	if !n.chance(0.7) {
		return nil
	}
	season := 58 - 26*math.Cos(2*math.Pi*float64(in.InspectedOn.Time().YearDay()-20)/365)
	temp := round(season+n.NormFloat64()*8, 1)
	r := &condition.Reading{
		ID: n.readings.NewID(), UID: n.tx.NewUID(), JointID: l.joint.ID, InspectionID: in.ID, ReadOn: in.InspectedOn,
		Position: "crown", GapIn: l.gap(in.InspectedOn, temp), CreatedAt: n.tx.At, CreatedBy: n.tx.Actor,
	}
	if n.chance(0.2) {
		r.AirTempF = ptr(temp + round(n.NormFloat64()*6, 1))
	} else {
		r.DeckTempF = ptr(temp)
	}
	n.made.Readings++
	return n.readings.Add(r)
}
