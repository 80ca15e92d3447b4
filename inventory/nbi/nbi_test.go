package nbi_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/inventory/nbi"
	"reseal/inventory/nbi/nbitest"
)

func read(t *testing.T, text string) []nbi.Record {
	t.Helper()
	var records []nbi.Record
	err := nbi.ForEach(context.Background(), strings.NewReader(text), func(r nbi.Record) error {
		records = append(records, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return records
}

// one reads a row of a state, a number and the given columns.
func one(t *testing.T, columns, values string) nbi.Record {
	t.Helper()
	records := read(t, "STATE_CODE_001,STRUCTURE_NUMBER_008,"+columns+"\n41,B1,"+values+"\n")
	if len(records) != 1 {
		t.Fatalf("got %d records, want 1", len(records))
	}
	return records[0]
}

func TestQuoting(t *testing.T) {
	const columns = "FEATURES_DESC_006A,FACILITY_CARRIED_007,LOCATION_009,ADT_029"
	tests := []struct {
		name, row                   string
		feature, facility, location string
		adt, problems               int
	}{
		{"quoted", "'CREEK','ROAD','TOWN',5", "CREEK", "ROAD", "TOWN", 5, 0},
		{"not quoted", "CREEK,ROAD,TOWN,5", "CREEK", "ROAD", "TOWN", 5, 0},
		{"double quotes", `"CREEK, N","SAY ""HI""",TOWN,5`, "CREEK, N", `SAY "HI"`, "TOWN", 5, 0},
		{"apostrophe inside", "'O'NEIL'S CREEK','ROAD','TOWN',5", "O'NEIL'S CREEK", "ROAD", "TOWN", 5, 0},
		{"apostrophe at the end", "'BOYS'','ROAD','TOWN',5", "BOYS'", "ROAD", "TOWN", 5, 0},
		{"delimiter inside", "'CREEK, NORTH','ROAD','TOWN',5", "CREEK, NORTH", "ROAD", "TOWN", 5, 0},
		{"quote before a delimiter inside", "'THE 'BIG', OLD CREEK','ROAD','TOWN',5", "THE 'BIG', OLD CREEK", "ROAD", "TOWN", 5, 0},
		{"empty", "'','','',5", "", "", "", 5, 0},
		{"blanks inside stay", "' A  B ','ROAD','TOWN',5", "A  B", "ROAD", "TOWN", 5, 0},
		{"Latin-1", "'CA\xd1ON','ROAD','TOWN',5", "CAÑON", "ROAD", "TOWN", 5, 0},
		{"UTF-8", "'CAÑON','ROAD','TOWN',5", "CAÑON", "ROAD", "TOWN", 5, 0},
		{"control characters", "'A\x00B','ROAD','TOWN',5", "A B", "ROAD", "TOWN", 5, 0},
		{"cut short", "'CREEK','ROA", "CREEK", "ROA", "", nbi.NotRecorded, 1},
		{"empty fields too many", "'CREEK','ROAD','TOWN',5,,", "CREEK", "ROAD", "TOWN", 5, 0},
		{"bare delimiter in a text", "CREEK, NORTH,ROAD,TOWN,5", "", "", "", nbi.NotRecorded, 1},
		{"Windows line end", "CREEK,ROAD,TOWN,5\r", "CREEK", "ROAD", "TOWN", 5, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := one(t, columns, tt.row)
			got := []any{r.StructureNumber, r.FeatureIntersected, r.FacilityCarried, r.Location, r.ADT, len(r.Problems)}
			want := []any{"B1", tt.feature, tt.facility, tt.location, tt.adt, tt.problems}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("(-want +got):\n%s\n%v", diff, r.Problems)
			}
		})
	}
}

func TestValues(t *testing.T) {
	type record = nbi.Record
	tests := []struct {
		name, columns, values string
		value                 func(record) any
		want                  any
		problems              int
	}{
		{"skew", "DEGREES_SKEW_034", "30", func(r record) any { return r.SkewDeg }, 30, 0},
		{"skew varies", "DEGREES_SKEW_034", "99", func(r record) any { return []any{r.SkewDeg, r.SkewVaries} }, []any{nbi.NotRecorded, true}, 0},
		{"skew impossible", "DEGREES_SKEW_034", "95", func(r record) any { return r.SkewDeg }, nbi.NotRecorded, 1},
		{"metres", "STRUCTURE_LEN_MT_049", "30.48", func(r record) any { return round(r.LengthFt) }, 100.0, 0},
		{"packed metres", "STRUCTURE_LEN_MT_049", "000305", func(r record) any { return round(r.LengthFt) }, 100.066, 0},
		{"negative metres", "STRUCTURE_LEN_MT_049", "-3", func(r record) any { return r.LengthFt }, 0.0, 1},
		{"width", "ROADWAY_WIDTH_MT_051", "12.2", func(r record) any { return round(r.CurbWidthFt) }, 40.026, 0},
		{"no limit below", "VERT_CLR_UND_054B", "99.99", func(r record) any { return r.ClearUnderFt }, 0.0, 0},
		{"kilometres", "KILOPOINT_011", "1.609344", func(r record) any { return []any{round(r.MilepostMi), r.HasMilepost} }, []any{1.0, true}, 0},
		{"packed kilometres", "KILOPOINT_011", "0016093", func(r record) any { return round(r.MilepostMi) }, 10.0, 0},
		{"no milepost", "KILOPOINT_011", "", func(r record) any { return r.HasMilepost }, false, 0},
		{"detour", "DETOUR_KILOS_019", "16", func(r record) any { return round(r.DetourMi) }, 9.942, 0},
		{"no detour", "DETOUR_KILOS_019", "999", func(r record) any { return round(r.DetourMi) }, 123.653, 0},
		{"never rebuilt", "YEAR_RECONSTRUCTED_106", "0000", func(r record) any { return r.YearReconstructed }, 0, 0},
		{"not a year", "YEAR_BUILT_027", "197", func(r record) any { return r.YearBuilt }, 0, 1},
		{"spreadsheet number", "YEAR_BUILT_027", "1974.0", func(r record) any { return r.YearBuilt }, 1974, 0},
		{"inspected", "DATE_OF_INSPECT_090", "717", func(r record) any { return r.InspectionMonth }, "2017-07", 0},
		{"inspected in the last century", "DATE_OF_INSPECT_090", "1298", func(r record) any { return r.InspectionMonth }, "1998-12", 0},
		{"last year before the pivot", "DATE_OF_INSPECT_090", "0169", func(r record) any { return r.InspectionMonth }, "2069-01", 0},
		{"never inspected", "DATE_OF_INSPECT_090", "0000", func(r record) any { return r.InspectionMonth }, "", 0},
		{"thirteenth month", "DATE_OF_INSPECT_090", "1317", func(r record) any { return r.InspectionMonth }, "", 1},
		{"continuous steel", "STRUCTURE_KIND_043A", "4", func(r record) any { return []any{r.Material, r.Continuous} }, []any{"steel", true}, 0},
		{"prestressed", "STRUCTURE_KIND_043A", "5", func(r record) any { return []any{r.Material, r.Continuous} }, []any{"prestressed concrete", false}, 0},
		{"material unknown", "STRUCTURE_KIND_043A", "X", func(r record) any { return r.Material }, "", 1},
		{"design", "STRUCTURE_TYPE_043B", "2", func(r record) any { return []any{r.DesignCode, r.Design} }, []any{2, "multi-beam"}, 0},
		{"rating", "DECK_COND_058", "0", func(r record) any { return r.DeckRating }, 0, 0},
		{"no deck", "DECK_COND_058", "N", func(r record) any { return r.DeckRating }, nbi.NotRecorded, 0},
		{"joints' rating", "BRIDGE_JOINTS_COND_B.C.08", "6", func(r record) any { return r.JointsRating }, 6, 0},
		{"no joints' rating", "ADT_029", "1", func(r record) any { return r.JointsRating }, nbi.NotRecorded, 0},
		{"trucks", "PERCENT_ADT_TRUCK_109", "", func(r record) any { return r.TruckPct }, nbi.NotRecorded, 0},
		{"twin", "PARALLEL_STRUCTURE_101", "R", func(r record) any { return r.Twin }, "right", 0},
		{"owner", "OWNER_022", "1", func(r record) any { return r.Owner }, "state highway agency", 0},
		{"county", "COUNTY_CODE_003", "5", func(r record) any { return r.County }, "005", 0},
		{"district", "HIGHWAY_DISTRICT_002", "3 ", func(r record) any { return r.District }, "03", 0},
		{"district by letters", "HIGHWAY_DISTRICT_002", "SE", func(r record) any { return r.District }, "SE", 0},
		{"below", "SERVICE_UND_042B", "6", func(r record) any { return r.ServiceUnder }, "highway and waterway", 0},
		{"route below", "RECORD_TYPE_005A", "2", func(r record) any { return r.RouteOn }, false, 0},
		{"route", "ROUTE_PREFIX_005B,SERVICE_LEVEL_005C,ROUTE_NUMBER_005D,DIRECTION_005E", "1,1,00005,3", func(r record) any { return []any{r.Route, r.RouteDirection, r.BearingDeg} }, []any{"I 5", "S", 180}, 0},
		{"spur", "ROUTE_PREFIX_005B,SERVICE_LEVEL_005C,ROUTE_NUMBER_005D,DIRECTION_005E", "2,4,00101,0", func(r record) any { return []any{r.Route, r.RouteDirection, r.BearingDeg} }, []any{"US 101 spur", "", nbi.NotRecorded}, 0},
		{"road without number", "ROUTE_PREFIX_005B,ROUTE_NUMBER_005D", "4,00000", func(r record) any { return r.Route }, "", 0},
		// 32 deg 31' 32.00" is 32.5255555556: a public sample of the file.
		{"position", "LAT_016,LONG_017", "32313200,093403220", func(r record) any { return []any{round(r.Position.Lat()), round(r.Position.Lon()), r.Placed} }, []any{32.526, -93.676, true}, 0},
		{"lost zero", "LAT_016,LONG_017", "32313200,93403220", func(r record) any { return round(r.Position.Lon()) }, -93.676, 0},
		{"no position", "LAT_016,LONG_017", ",", func(r record) any { return r.Placed }, false, 2},
		{"zero position", "LAT_016,LONG_017", "00000000,000000000", func(r record) any { return r.Placed }, false, 2},
		{"61 minutes", "LAT_016,LONG_017", "32613200,093403220", func(r record) any { return r.Placed }, false, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := one(t, tt.columns, tt.values)
			if diff := cmp.Diff(tt.want, tt.value(r)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", tt.values, diff)
			}
			if len(r.Problems) != tt.problems {
				t.Errorf("got problems %v, want %d", r.Problems, tt.problems)
			}
		})
	}
}

func round(x float64) float64 { return math.Round(x*1000) / 1000 }

func TestIdentity(t *testing.T) {
	tests := []struct {
		name, row, state, number string
		refused                  bool
	}{
		{"lost zero", "2,B1", "02", "B1", false},
		{"with the region's digit", "020,B1", "02", "B1", false},
		{"inner blanks and zeros stay", "41, 00159A604 00081 ", "41", "00159A604 00081", false},
		{"no number", "41,  ", "41", "", true},
		{"no such state", "99,B1", "", "B1", true},
		{"words", "OREGON,B1", "", "B1", true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := read(t, "STATE_CODE_001,STRUCTURE_NUMBER_008\n\n"+tt.row+"\n\x1a")[0]
			refused := len(r.Problems) > 0 && r.Problems[0].Refuse
			got := []any{r.Line, r.State, r.StructureNumber, refused}
			want := []any{3, tt.state, tt.number, tt.refused}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestHeaders(t *testing.T) {
	tests := []struct{ name, text string }{
		{"other order and case", "structure_number_008,adt_029,state_code_001\nB1,7,41"},
		{"semicolons", "STATE_CODE_001;STRUCTURE_NUMBER_008;ADT_029\n41;B1;7"},
		{"tabs", "STATE_CODE_001\tSTRUCTURE_NUMBER_008\tADT_029\n41\tB1\t7"},
		{"quoted", "'STATE_CODE_001','STRUCTURE_NUMBER_008','ADT_029'\n'41','B1','7'"},
		{"byte-order mark", "\xef\xbb\xbfSTATE_CODE_001,STRUCTURE_NUMBER_008,ADT_029\r\n41,B1,7\r\n"},
		{"unknown columns", "X,STATE_CODE_001,STRUCTURE_NUMBER_008,Y,ADT_029\n1,41,B1,2,7"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := read(t, tt.text)[0]
			if r.State != "41" || r.StructureNumber != "B1" || r.ADT != 7 || len(r.Problems) != 0 {
				t.Errorf("got %s %s ADT %d %v, want 41 B1 ADT 7", r.State, r.StructureNumber, r.ADT, r.Problems)
			}
		})
	}
	for _, text := range []string{
		"", "\n", "PK\x03\x04", "\xff\xfeS\x00", "<html>", "tag,length_ft\n1,2\n", "STATE_CODE_001\n1",
		"STATE_CODE_001,STATE_001,STRUCTURE_NUMBER_008\n", strings.Repeat("x", 1<<19),
	} {
		err := nbi.ForEach(context.Background(), strings.NewReader(text), func(nbi.Record) error { return nil })
		if !errors.Is(err, nbi.ErrNotInventory) {
			t.Errorf("%.20q: got %v, want ErrNotInventory", text, err)
		}
	}
}

func TestStops(t *testing.T) {
	var file strings.Builder
	if err := nbitest.Write(&file, "41", 5000, 1); err != nil {
		t.Fatal(err)
	}
	enough := errors.New("enough")
	err := nbi.ForEach(context.Background(), strings.NewReader(file.String()), func(nbi.Record) error { return enough })
	if err != enough {
		t.Errorf("got %v, want the error of the function", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	err = nbi.ForEach(ctx, strings.NewReader(file.String()), func(nbi.Record) error { n++; cancel(); return nil })
	if !errors.Is(err, context.Canceled) || n > 2048 {
		t.Errorf("got %v after %d rows, want context.Canceled soon", err, n)
	}
}

// The faults that the generator makes are told, and lose no row.
func TestInvented(t *testing.T) {
	var file strings.Builder
	const rows = 20000
	if err := nbitest.Write(&file, "41", rows, 1); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(file.String()[:strings.IndexByte(file.String(), '\n')], ",") + 1; got != nbitest.Columns {
		t.Errorf("got %d columns, want %d", got, nbitest.Columns)
	}
	records := read(t, file.String())
	faulty, unplaced := 0, 0
	for i, r := range records {
		if r.Line != i+2 {
			t.Fatalf("got line %d, want %d", r.Line, i+2)
		}
		if len(r.Problems) > 0 {
			faulty++
		}
		if !r.Placed {
			unplaced++
		}
	}
	if len(records) < rows-rows/500 || faulty < rows/250 || faulty > rows/60 || unplaced < rows/400 {
		t.Errorf("got %d rows, %d with problems, %d unplaced", len(records), faulty, unplaced)
	}
}
