package nbi_test

import (
	"bytes"
	"context"
	"math"
	"testing"
	"unicode/utf8"

	"reseal/inventory/nbi"
	"reseal/inventory/nbi/nbitest"
)

func FuzzForEach(f *testing.F) {
	var file bytes.Buffer
	if err := nbitest.Write(&file, "41", 20, 1); err != nil {
		f.Fatal(err)
	}
	f.Add(file.Bytes())
	f.Add([]byte("STATE_CODE_001,STRUCTURE_NUMBER_008,FEATURES_DESC_006A,LAT_016,LONG_017\n41,B1,'A', 'B',1,2\n"))
	f.Add([]byte("STATE_CODE_001;STRUCTURE_NUMBER_008;DATE_OF_INSPECT_090;STRUCTURE_LEN_MT_049\r\n2;'x;1317;.\r\n"))
	f.Fuzz(func(t *testing.T, file []byte) {
		last := 1
		_ = nbi.ForEach(context.Background(), bytes.NewReader(file), func(r nbi.Record) error {
			if r.Line <= last {
				t.Fatalf("line %d comes after %d", r.Line, last)
			}
			last = r.Line
			for _, x := range []float64{r.LengthFt, r.MaxSpanFt, r.CurbWidthFt, r.OutWidthFt, r.ClearUnderFt, r.MilepostMi, r.Position.Lat(), r.Position.Lon()} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("line %d: not finite: %+v", r.Line, r)
				}
			}
			for _, text := range []string{r.StructureNumber, r.FeatureIntersected, r.FacilityCarried, r.Location, r.Route, r.District, r.County} {
				if !utf8.ValidString(text) {
					t.Fatalf("line %d: %q is not UTF-8", r.Line, text)
				}
			}
			if (r.State == "" || r.StructureNumber == "") && len(r.Problems) == 0 {
				t.Fatalf("line %d: no state or number and no problem: %+v", r.Line, r)
			}
			if r.SkewDeg < nbi.NotRecorded || r.SkewDeg > 89 || r.DeckRating < nbi.NotRecorded || r.DeckRating > 9 {
				t.Fatalf("line %d: out of range: %+v", r.Line, r)
			}
			return nil
		})
	})
}
