package element

// Unit is what a quantity of an element counts.
type Unit string

const (
	Feet        Unit = "ft"
	Each        Unit = "each"
	SquareFeet  Unit = "sq ft"
	UnknownUnit Unit = ""
)

// part is a run of element numbers.
type part struct {
	from, to int
	unit     Unit
	harmed   string // what the water of a leaking joint above reaches; "" where it does not
}

// parts are the elements of the specification by their numbers (from memory).
// Which of them a leaking joint harms is common practice: the ends of what
// carries the deck, and what stands below the ends.
var parts = [...]part{
	{12, 65, SquareFeet, ""},
	{102, 118, Feet, "girder end"},
	{120, 120, Feet, "truss end"},
	{135, 136, Feet, "truss end"},
	{141, 146, Feet, ""}, // arches
	{147, 147, Feet, ""}, // main cables
	{148, 149, Each, ""}, // secondary cables
	{152, 157, Feet, "floorbeam"},
	{161, 161, Each, "pin and hanger"},
	{162, 162, Each, "gusset plate"},
	{202, 206, Each, "column"},
	{207, 208, Feet, "tower or trestle"},
	{210, 213, Feet, "pier wall"},
	{215, 219, Feet, "abutment"},
	{220, 220, Feet, "pile cap or footing"},
	{225, 229, Each, "pile"},
	{231, 236, Feet, "pier cap"},
	{240, 245, Feet, ""}, // culverts
	{StripSeal, OtherJoint, Feet, ""},
	{310, 316, Each, "bearing"},
	{320, 321, SquareFeet, ""}, // approach slabs
	{330, 334, Feet, ""},       // railings
	{510, 521, SquareFeet, ""}, // wearing surfaces, coatings and other protection
}

// UnitOf returns what the quantities of an element count, UnknownUnit for a
// number that the specification does not give, such as an agency's own.
func UnitOf(number int) Unit {
	return partNumbered(number).unit
}

// HarmedByLeak returns the plain name of a part that the water of a leaking
// joint damages (girder ends, bearings, caps, columns and what else is below a
// deck's end), "" for an element that it does not reach. A coating (515) is
// harmed where its parent is.
func HarmedByLeak(number int) string {
	return partNumbered(number).harmed
}

func partNumbered(number int) part {
	for _, p := range parts {
		if number >= p.from && number <= p.to {
			return p
		}
	}
	return part{}
}
