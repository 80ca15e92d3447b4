package nbi

import "github.com/paulmach/orb"

// NotRecorded stands in a whole-number field where zero has a meaning of its
// own and the file gives no value, or "N" for not applicable.
const NotRecorded = -1

// Record is one row of the inventory. Text is trimmed at both ends only. A
// number whose comment does not mention NotRecorded is 0 where the file has
// none. A Record shares no memory with the reader and may be kept.
type Record struct {
	Line     int       // of the file, the header being line 1
	Problems []Problem // what is wrong with the row

	State           string // item 1: two-digit FIPS code, "02"
	StructureNumber string // item 8: unique within the state only
	RouteOn         bool   // item 5A: this row is the route the bridge carries, not one below it

	Route          string // item 5: "I 5", "US 101", "State 922 spur"; without direction, so that twins share it
	RouteDirection string // item 5E: N, E, S, W, or "" where it has none
	BearingDeg     int    // nominal bearing of RouteDirection: 0, 90, 180, 270, or NotRecorded
	MilepostMi     float64
	HasMilepost    bool // item 11 is filled in; 0 may be a real milepost or a blank one

	District           string    // item 2, as two characters
	County             string    // item 3: three-digit FIPS code
	Owner              string    // item 22, in words
	FeatureIntersected string    // item 6A
	FacilityCarried    string    // item 7
	Location           string    // item 9
	LatText, LonText   string    // items 16 and 17 as given
	Position           orb.Point // WGS 84, where Placed
	Placed             bool

	DetourMi          float64 // item 19; NotRecorded; 199 km (123.7 mi) means that or more, or no way round
	YearBuilt         int     // item 27
	YearReconstructed int     // item 106; 0 never
	LanesOn           int     // item 28A
	ADT               int     // item 29, vehicles a day; NotRecorded
	ADTYear           int     // item 30
	TruckPct          int     // item 109, share of ADT; NotRecorded
	TrafficDirection  string  // item 102: "one-way", "two-way", "one lane for two-way", "none"
	NHS               bool    // item 104: on the National Highway System

	SkewDeg       int     // item 34, 0 to 89; NotRecorded, also where it varies
	SkewVaries    bool    // item 34 is 99: the skew differs between supports
	Material      string  // item 43A, in words, without continuity
	Continuous    bool    // item 43A says that the main spans are continuous
	DesignCode    int     // item 43B; NotRecorded
	Design        string  // item 43B, in words
	MainSpans     int     // item 45
	ApproachSpans int     // item 46
	MaxSpanFt     float64 // item 48
	LengthFt      float64 // item 49
	CurbWidthFt   float64 // item 51, curb to curb; 0 also where there is no roadway on a deck
	OutWidthFt    float64 // item 52, out to out

	ServiceOn    string  // item 42A: what the bridge carries, in words
	ServiceUnder string  // item 42B: what lies below, in words
	ClearUnderFt float64 // item 54B: least clear height over the road or railway below

	DeckRating           int // items 58 to 60: 0 failed to 9 excellent; NotRecorded
	SuperstructureRating int
	SubstructureRating   int
	JointsRating         int // SNBI item B.C.08, where the file has it; NotRecorded

	InspectionMonth  string // item 90 as YYYY-MM, "" where there is none
	InspectionMonths int    // item 91: months between inspections
	Twin             string // item 101: "left" or "right" of two parallel bridges, else ""
}

// Problem is one thing wrong with a row.
type Problem struct {
	Column  string // the header's name; "" for the row as a whole
	Value   string // as given
	Problem string // what is wrong with it, for a person
	Refuse  bool   // the row names no bridge and cannot be kept; without it, only the value is left out
}
