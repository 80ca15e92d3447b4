package nbi_test

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"

	"reseal/inventory/nbi"
)

const alaska = "../../testdata/open/AK19.txt.gz"

func readAlaska(t *testing.T) []nbi.Record {
	t.Helper()
	f, err := os.Open(alaska)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var records []nbi.Record
	err = nbi.ForEach(context.Background(), z, func(r nbi.Record) error {
		records = append(records, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return records
}

// counts are what testdata/nbi/counts.py counts.
type counts struct {
	Records, Columns, Structures, NHS, SkewVaries, Twins, Continuous, Rebuilt int

	Placed, ADT, LengthDm, DeckRated, InspectedIn2018 int
}

func TestAlaskaByPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("python3 is needed")
		}
		t.Skip("no python3")
	}
	out, err := exec.Command(python, "../../testdata/nbi/counts.py", alaska).Output()
	if err != nil {
		t.Fatal(err)
	}
	var want counts
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	one := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	got := counts{Columns: 123} // a row of another number is a problem, found below
	structures := map[string]bool{}
	for _, r := range readAlaska(t) {
		got.Records++
		structures[r.StructureNumber] = true
		got.NHS += one(r.NHS)
		got.SkewVaries += one(r.SkewVaries)
		got.Twins += one(r.Twin != "")
		got.Continuous += one(r.Continuous)
		got.Rebuilt += one(r.YearReconstructed > 0)
		got.Placed += one(r.Placed)
		got.ADT += max(0, r.ADT)
		got.LengthDm += int(math.Round(r.LengthFt * 3.048))
		got.DeckRated += one(r.DeckRating != nbi.NotRecorded)
		got.InspectedIn2018 += one(strings.HasPrefix(r.InspectionMonth, "2018-"))
		for _, p := range r.Problems {
			if p.Column != "LAT_016" && p.Column != "LONG_017" {
				t.Errorf("line %d: unlooked-for problem %+v", r.Line, p)
			}
		}
	}
	got.Structures = len(structures)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("counts (-python +got):\n%s", diff)
	}
}

// The counts of records and of positions that cannot be were made by the
// providers of the data, apart from this package.
func TestAlaskaByKnownCounts(t *testing.T) {
	records := readAlaska(t)
	if got, want := len(records), 1595; got != want {
		t.Errorf("got %d records, want %d", got, want)
	}
	unplaced := 0
	for _, r := range records {
		if !r.Placed {
			unplaced++
		}
	}
	if want := 9; unplaced != want {
		t.Errorf("got %d records without a position, want %d", unplaced, want)
	}
}

// Positions converted by hand from the file's degrees, minutes and seconds.
func TestAlaskaPositions(t *testing.T) {
	at := func(lat, lon [3]float64) orb.Point {
		return orb.Point{-(lon[0] + lon[1]/60 + lon[2]/3600), lat[0] + lat[1]/60 + lat[2]/3600}
	}
	want := map[string]orb.Point{
		"0176":            at([3]float64{55, 21, 23.67}, [3]float64{131, 42, 26.49}), // Gravina Island
		"0255":            at([3]float64{62, 33, 54.97}, [3]float64{150, 13, 59.41}), // Parks Highway over Chulitna River
		"0400":            at([3]float64{58, 44, 49.58}, [3]float64{156, 56, 37.43}), // Leader Creek
		"1342":            at([3]float64{64, 53, 17.82}, [3]float64{147, 37, 20.67}), // Steese Highway
		"000Elim 2537-20": at([3]float64{64, 36, 59.8}, [3]float64{162, 15, 16.7}),   // with a decimal point
	}
	for _, r := range readAlaska(t) {
		p, ok := want[r.StructureNumber]
		if !ok {
			continue
		}
		delete(want, r.StructureNumber)
		if got := geo.DistanceHaversine(p, r.Position); !r.Placed || got > 1 {
			t.Errorf("%s: got %v, %.1f m from %v", r.StructureNumber, r.Position, got, p)
		}
	}
	if len(want) > 0 {
		t.Errorf("not in the file: %v", want)
	}
}
