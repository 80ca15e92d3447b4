// Package nbitest writes invented bridge inventories of any size, for tests and
// benchmarks. No bridge in them exists.
package nbitest

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"strings"
)

// Columns is how many columns a row has, as many as in the files of the FHWA.
const Columns = 123

const header = "STATE_CODE_001,STRUCTURE_NUMBER_008,RECORD_TYPE_005A,ROUTE_PREFIX_005B," +
	"SERVICE_LEVEL_005C,ROUTE_NUMBER_005D,DIRECTION_005E,HIGHWAY_DISTRICT_002," +
	"COUNTY_CODE_003,PLACE_CODE_004,FEATURES_DESC_006A,CRITICAL_FACILITY_006B," +
	"FACILITY_CARRIED_007,LOCATION_009,MIN_VERT_CLR_010,KILOPOINT_011,BASE_HWY_NETWORK_012," +
	"LRS_INV_ROUTE_013A,SUBROUTE_NO_013B,LAT_016,LONG_017,DETOUR_KILOS_019,TOLL_020," +
	"MAINTENANCE_021,OWNER_022,FUNCTIONAL_CLASS_026,YEAR_BUILT_027,TRAFFIC_LANES_ON_028A," +
	"TRAFFIC_LANES_UND_028B,ADT_029,YEAR_ADT_030,DESIGN_LOAD_031,APPR_WIDTH_MT_032," +
	"MEDIAN_CODE_033,DEGREES_SKEW_034,STRUCTURE_FLARED_035,RAILINGS_036A,TRANSITIONS_036B," +
	"APPR_RAIL_036C,APPR_RAIL_END_036D,HISTORY_037,NAVIGATION_038,NAV_VERT_CLR_MT_039," +
	"NAV_HORR_CLR_MT_040,OPEN_CLOSED_POSTED_041,SERVICE_ON_042A,SERVICE_UND_042B," +
	"STRUCTURE_KIND_043A,STRUCTURE_TYPE_043B,APPR_KIND_044A,APPR_TYPE_044B," +
	"MAIN_UNIT_SPANS_045,APPR_SPANS_046,HORR_CLR_MT_047,MAX_SPAN_LEN_MT_048," +
	"STRUCTURE_LEN_MT_049,LEFT_CURB_MT_050A,RIGHT_CURB_MT_050B,ROADWAY_WIDTH_MT_051," +
	"DECK_WIDTH_MT_052,VERT_CLR_OVER_MT_053,VERT_CLR_UND_REF_054A,VERT_CLR_UND_054B," +
	"LAT_UND_REF_055A,LAT_UND_MT_055B,LEFT_LAT_UND_MT_056,DECK_COND_058," +
	"SUPERSTRUCTURE_COND_059,SUBSTRUCTURE_COND_060,CHANNEL_COND_061,CULVERT_COND_062," +
	"OPR_RATING_METH_063,OPERATING_RATING_064,INV_RATING_METH_065,INVENTORY_RATING_066," +
	"STRUCTURAL_EVAL_067,DECK_GEOMETRY_EVAL_068,UNDCLRENCE_EVAL_069,POSTING_EVAL_070," +
	"WATERWAY_EVAL_071,APPR_ROAD_EVAL_072,WORK_PROPOSED_075A,WORK_DONE_BY_075B," +
	"IMP_LEN_MT_076,DATE_OF_INSPECT_090,INSPECT_FREQ_MONTHS_091,FRACTURE_092A," +
	"UNDWATER_LOOK_SEE_092B,SPEC_INSPECT_092C,FRACTURE_LAST_DATE_093A," +
	"UNDWATER_LAST_DATE_093B,SPEC_LAST_DATE_093C,BRIDGE_IMP_COST_094,ROADWAY_IMP_COST_095," +
	"TOTAL_IMP_COST_096,YEAR_OF_IMP_097,OTHER_STATE_CODE_098A,OTHER_STATE_PCNT_098B," +
	"OTHR_STATE_STRUC_NO_099,STRAHNET_HIGHWAY_100,PARALLEL_STRUCTURE_101," +
	"TRAFFIC_DIRECTION_102,TEMP_STRUCTURE_103,HIGHWAY_SYSTEM_104,FEDERAL_LANDS_105," +
	"YEAR_RECONSTRUCTED_106,DECK_STRUCTURE_TYPE_107,SURFACE_TYPE_108A,MEMBRANE_TYPE_108B," +
	"DECK_PROTECTION_108C,PERCENT_ADT_TRUCK_109,NATIONAL_NETWORK_110,PIER_PROTECTION_111," +
	"BRIDGE_LEN_IND_112,SCOUR_CRITICAL_113,FUTURE_ADT_114,YEAR_OF_FUTURE_ADT_115," +
	"MIN_NAV_CLR_MT_116,FED_AGENCY,SUBMITTED_BY,BRIDGE_CONDITION,LOWEST_RATING,DECK_AREA"

// row is an invented bridge with a ? for each value that is drawn.
const row = "?,?,1,?,1,?,?,?,?,00000,?,,?,?,99.99,?,1,,,?,?,?,3,01,?,02,?,?,0,?,?,5,11,0,?,0,1,1,1," +
	"1,5,0,0,0,A,?,?,?,?,0,00,?,?,0,?,?,0,0,?,?,99.99,N,?,N,0,0,?,?,?,8,N,1,55.2,1,32.7,7," +
	"5,N,5,8,8,,,,?,?,N  ,N  ,N  ,0,0,0,0,0,0,0,,0,               ,0,?,?,,?,0,?,1,6,0,0,?," +
	"0,0,0,8,850,2035,0,N,00,G,7,306.28"

// Write writes a header and as many rows, all of one state, with Windows line
// ends and single quotes. The same seed gives the same bytes. Structure numbers
// are the row's number in six digits after a letter I, for invented. About one
// row in a hundred has one of the faults of real files: a blank or zero
// position, minutes over 59, a lost leading zero, a row cut short, an apostrophe
// before a comma.
func Write(w io.Writer, state string, rows int, seed uint64) error {
	out := bufio.NewWriterSize(w, 1<<16)
	out.WriteString(header + "\r\n")
	rng := rand.New(rand.NewPCG(seed, 1))
	parts := strings.Split(row, "?")
	var line []byte
	for n := range rows {
		line = line[:0]
		for i, value := range bridge(rng, state, n) {
			line = append(append(line, parts[i]...), value...)
		}
		line = append(line, parts[len(parts)-1]...)
		if rng.IntN(500) == 0 {
			line = line[:len(line)*(1+rng.IntN(3))/4]
		}
		line = append(line, "\r\n"...)
		if _, err := out.Write(line); err != nil {
			return err
		}
	}
	return out.Flush()
}

// bridge draws the values of one row in the order of the marks in row.
func bridge(rng *rand.Rand, state string, n int) [41]string {
	between := func(from, to int) string { return strconv.Itoa(from + rng.IntN(to-from+1)) }
	metres := func(from, to int) string {
		tenths := 10*from + rng.IntN(10*(to-from)+1)
		return strconv.FormatFloat(float64(tenths)/10, 'f', -1, 64)
	}
	one := func(codes string) string { return codes[rng.IntN(len(codes)):][:1] }
	feature := "'INVENTED CREEK'"
	lat := fmt.Sprintf("%02d%02d%02d%02d", 30+rng.IntN(18), rng.IntN(60), rng.IntN(60), rng.IntN(100))
	lon := fmt.Sprintf("%03d%02d%02d%02d", 70+rng.IntN(50), rng.IntN(60), rng.IntN(60), rng.IntN(100))
	skew := strconv.Itoa(5 * max(0, rng.IntN(18)-8))
	switch rng.IntN(600) {
	case 0:
		lat, lon = "", ""
	case 1:
		lat, lon = "00000000", "000000000"
	case 2:
		lat = lat[:2] + "75" + lat[4:]
	case 3:
		lon = strings.TrimPrefix(lon, "0")
	case 4:
		feature = "'O'INVENT'S CREEK', NORTH'"
	case 5:
		skew = "99"
	}
	rebuilt := "0"
	if rng.IntN(5) == 0 {
		rebuilt = between(1985, 2020)
	}
	return [...]string{
		state, fmt.Sprintf("        I%06d", n+1), one("1233345"), fmt.Sprintf("%05d", 1+rng.IntN(300)), one("01234"),
		fmt.Sprintf("%02d", 1+rng.IntN(9)), fmt.Sprintf("%03d", 1+2*rng.IntN(60)),
		feature, "'INVENTED ROAD'", "'" + between(1, 20) + " MI N OF NOWHERE'",
		strconv.FormatFloat(float64(rng.IntN(400000))/1000, 'f', -1, 64),
		lat, lon, between(0, 199), "0" + one("1234"),
		between(1925, 2018), between(1, 6), between(50, 90000), between(2005, 2018),
		skew, one("15"), one("125678"), one("12345678"), "0" + one("12345679"),
		between(1, 9), between(0, 4), metres(6, 60), metres(12, 400), metres(6, 25), metres(8, 28), metres(0, 8),
		one("N456789"), one("456789"), one("456789"), between(1, 12) + fmt.Sprintf("%02d", 15+rng.IntN(4)),
		one("24") + one("48"), one("NNNNLR"), one("123"), one("01"), rebuilt, between(0, 40),
	}
}
