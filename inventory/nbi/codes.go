package nbi

// The words for the codes of the Recording and Coding Guide (from memory). An
// empty word is a code that the guide does not give.

var materials = [...]string{
	"other", "concrete", "concrete", "steel", "steel", "prestressed concrete",
	"prestressed concrete", "wood", "masonry", "aluminum or iron",
}

var designs = [...]string{
	"other", "slab", "multi-beam", "girder and floorbeam", "T-beam",
	"multiple box beams", "single or spread box beams", "frame", "orthotropic",
	"deck truss", "through truss", "deck arch", "through arch", "suspension",
	"stayed girder", "lift", "bascule", "swing", "tunnel", "culvert",
	"mixed types", "segmental box girder", "channel beam",
}

var servicesOn = [...]string{
	"other", "highway", "railroad", "pedestrian", "highway and railroad",
	"highway and pedestrian", "second level of an interchange",
	"third level of an interchange", "fourth level of an interchange",
	"building or plaza",
}

var servicesUnder = [...]string{
	"other", "highway", "railroad", "pedestrian", "highway and railroad",
	"waterway", "highway and waterway", "railroad and waterway",
	"highway, waterway and railroad", "relief for waterway",
}

var trafficDirections = [...]string{"none", "one-way", "two-way", "one lane for two-way"}

var routePrefixes = [...]string{"", "I ", "US ", "State ", "County ", "City ", "Federal lands ", "State lands ", ""}

var routeLevels = [...]string{"", "", " alternate", " bypass", " spur", "", " business", " ramp", " service road"}

var directions = [...]string{"", "N", "E", "S", "W"}

var owners = map[int]string{
	1: "state highway agency", 2: "county highway agency",
	3: "town or township highway agency", 4: "city or municipal highway agency",
	11: "state park, forest or reservation agency",
	12: "local park, forest or reservation agency",
	21: "other state agency", 25: "other local agency",
	26: "private, not railroad", 27: "railroad", 31: "state toll authority",
	32: "local toll authority", 60: "other federal agency",
	61: "tribal government", 62: "Bureau of Indian Affairs",
	63: "Bureau of Fish and Wildlife", 64: "Forest Service",
	66: "National Park Service", 67: "Tennessee Valley Authority",
	68: "Bureau of Land Management", 69: "Bureau of Reclamation",
	70: "Corps of Engineers, civil", 71: "Corps of Engineers, military",
	72: "Air Force", 73: "Navy or Marines", 74: "Army", 75: "NASA",
	76: "Metropolitan Washington Airports Service", 80: "unknown",
}

// states are the FIPS codes of the states, the District of Columbia and the
// territories.
var states = func() (known [100]bool) {
	for code := 1; code <= 56; code++ {
		known[code] = true
	}
	for _, gap := range []int{3, 7, 14, 43, 52} {
		known[gap] = false
	}
	for _, territory := range []int{60, 66, 69, 72, 78} {
		known[territory] = true
	}
	return known
}()
