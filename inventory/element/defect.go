package element

// Defect is a kind of damage that puts feet of a joint in a condition state.
type Defect struct {
	Number int    // 2310 to 2370
	Name   string // plain
	// States says, in our own words, what is seen in CS1 (good), CS2 (fair), CS3
	// (poor) and CS4 (severe). The agency's inspection manual decides.
	States [4]string
}

const (
	Leakage            = 2310
	SealAdhesion       = 2320
	SealDamage         = 2330
	SealCracking       = 2340
	DebrisImpaction    = 2350
	AdjacentDeck       = 2360
	MetalDeterioration = 2370
)

// defects follow the AASHTO Manual for Bridge Element Inspection, 2nd edition,
// 2019 (2320 to 2360 as quoted elsewhere, 2310 and 2370 from memory).
var defects = [...]Defect{
	{Leakage, "leakage", [4]string{
		"none",
		"minor dripping through the joint",
		"more than dripping, less than free flow",
		"water flows freely through the joint",
	}},
	{SealAdhesion, "seal adhesion", [4]string{
		"fully bonded",
		"bonded over more than half of the joint's height",
		"bonded over half of the joint's height or less",
		"no bond left",
	}},
	{SealDamage, "seal damage", [4]string{
		"none",
		"worn, not punctured",
		"punctured, ripped or partly pulled out",
		"punctured through, pulled out or missing",
	}},
	{SealCracking, "seal cracking", [4]string{
		"none",
		"cracks in the surface",
		"cracks part of the way through",
		"cracks all the way through",
	}},
	{DebrisImpaction, "debris impaction", [4]string{
		"none, or a loose shallow cover without effect",
		"partly filled and packed hard, moves freely",
		"filled, movement is affected",
		"filled, the joint cannot move",
	}},
	{AdjacentDeck, "adjacent deck or header", [4]string{
		"sound",
		"delaminated, or spalled up to 1 in deep or 6 in across; patches sound; no bar showing",
		"spalled over 1 in deep or 6 in across, bar showing, or unsound patches that loosen the joint",
		"spalls, delamination, unsound patches or loose anchors that stop the joint from working",
	}},
	{MetalDeterioration, "metal deterioration or damage", [4]string{
		"none",
		"freckled rust; a connection may be loose but works",
		"section loss, broken or missing fasteners, cracks or impact; the joint works",
		"section loss, broken or missing fasteners, cracks or impact; the joint does not work",
	}},
}

// Defects returns the defects that may be recorded on an element, in the order
// of their numbers: all for strip seals, modular and other joints, those of the
// seal for pourable and compression seals, and debris, deck and metal for joints
// without a seal (open and plate joints from memory). It returns none for what
// is no joint.
func Defects(number int) []Defect {
	switch number {
	case PourableSeal, CompressionSeal:
		return append([]Defect(nil), defects[:6]...)
	case OpenJoint, AssemblyWithoutSeal:
		return append([]Defect(nil), defects[4:]...)
	}
	if !IsJoint(number) {
		return nil
	}
	return append([]Defect(nil), defects[:]...)
}

// DefectNumbered returns a joint's defect by its number.
func DefectNumbered(number int) (Defect, bool) {
	for _, d := range defects {
		if d.Number == number {
			return d, true
		}
	}
	return Defect{}, false
}
