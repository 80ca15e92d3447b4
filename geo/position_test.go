package geo_test

import (
	"compress/gzip"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"reseal/geo"
)

func TestParsePacked(t *testing.T) {
	for _, tt := range []struct {
		name  string
		parse func(string) (float64, error)
		in    string
		want  float64
	}{
		// A record of the National Bridge Inventory and its degrees as published
		// with it: 32°31'32.00".
		{"published record", geo.ParsePackedLat, "32313200", 32.5255555556},
		// A public sample converts this one to 45.4566667 and so drops the
		// hundredths; 45 + 27/60 + 24.60/3600 is right.
		{"hundredths count", geo.ParsePackedLat, "45272460", 45.4568333333},
		{"blanks around", geo.ParsePackedLat, " 32313200 ", 32.5255555556},
		{"leading zero lost", geo.ParsePackedLat, "5301200", dms(5, 30, 12)},
		{"decimals of a second", geo.ParsePackedLat, "643659.8", dms(64, 36, 59.8)}, // Alaska 2019
		{"decimals and a lost zero", geo.ParsePackedLat, "53012.25", dms(5, 30, 12.25)},
		{"decimal point of a number column", geo.ParsePackedLat, "32313200.0", 32.5255555556},
		{"decimal point at the end", geo.ParsePackedLat, "643659.", dms(64, 36, 59)},
		{"north pole", geo.ParsePackedLat, "90000000", 90},
		{"nearly 60 seconds", geo.ParsePackedLat, "32595999", dms(32, 59, 59.99)},
		{"longitude", geo.ParsePackedLon, "131422649", dms(131, 42, 26.49)},              // Alaska 2019
		{"longitude with decimals", geo.ParsePackedLon, "1621516.7", dms(162, 15, 16.7)}, // Alaska 2019
		{"longitude, leading zero lost", geo.ParsePackedLon, "93403223", dms(93, 40, 32.23)},
		{"longitude, zero kept", geo.ParsePackedLon, "093403223", dms(93, 40, 32.23)},
		{"longitude of a number column", geo.ParsePackedLon, "93403223.00", dms(93, 40, 32.23)},
		{"antimeridian", geo.ParsePackedLon, "180000000", 180},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.parse(tt.in)
			if err != nil || math.Abs(got-tt.want) > 1e-10 {
				t.Errorf("got %.10f, %v, want %.10f", got, err, tt.want)
			}
		})
	}
}

func TestParsePackedRefuses(t *testing.T) {
	for _, tt := range []struct {
		name  string
		parse func(string) (float64, error)
		in    string
		want  error
		part  string // named in the message
	}{
		{"blank", geo.ParsePackedLat, "", geo.ErrNoPosition, ""},
		{"blanks", geo.ParsePackedLat, "   ", geo.ErrNoPosition, ""},
		{"zero", geo.ParsePackedLat, "0", geo.ErrNoPosition, ""},
		{"zeros", geo.ParsePackedLon, "000000000", geo.ErrNoPosition, ""},
		{"zero with decimals", geo.ParsePackedLon, "0.00", geo.ErrNoPosition, ""},
		{"60 seconds", geo.ParsePackedLat, "60196000", geo.ErrInvalid, "60 seconds"},     // Alaska 2019
		{"81 seconds", geo.ParsePackedLon, "015138133", geo.ErrInvalid, "81.33 seconds"}, // Alaska 2019
		{"60 minutes", geo.ParsePackedLat, "32600000", geo.ErrInvalid, "60 minutes"},
		{"91 degrees", geo.ParsePackedLat, "91000000", geo.ErrInvalid, "91 degrees"},
		{"past the pole", geo.ParsePackedLat, "90000001", geo.ErrInvalid, "at most 90"},
		// A public sample holds this for 93°40'32.2": a zero lost in front, a
		// digit too many behind. It cannot be told from other faults.
		{"zero lost and a digit gained", geo.ParsePackedLon, "934032238", geo.ErrInvalid, "934 degrees"},
		{"too long", geo.ParsePackedLat, "323132001", geo.ErrInvalid, "9 digits"},
		{"too long with decimals", geo.ParsePackedLat, "32313200.5", geo.ErrInvalid, "decimals"},
		{"sign", geo.ParsePackedLon, "-93403223", geo.ErrInvalid, "sign"},
		{"letters", geo.ParsePackedLat, "32313N00", geo.ErrInvalid, "digits only"},
		{"two points", geo.ParsePackedLat, "3231.32.00", geo.ErrInvalid, "digits only"},
		{"exponent", geo.ParsePackedLat, "3.2e7", geo.ErrInvalid, "digits only"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.parse(tt.in)
			if !errors.Is(err, tt.want) || !strings.Contains(fmt.Sprint(err), tt.part) {
				t.Errorf("got %v, %v, want %v with %q", got, err, tt.want, tt.part)
			}
		})
	}
}

// TestParsePackedAlaska runs over every bridge of Alaska in the National Bridge
// Inventory of 2019 and compares with a count made by hand: nine positions with
// 60 seconds or more, one in decimals.
func TestParsePackedAlaska(t *testing.T) {
	f, err := os.Open("../testdata/open/AK19.txt.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	// The file quotes with apostrophes, and has some inside its texts.
	r := csv.NewReader(strings.NewReader(strings.ReplaceAll(string(text), "'", `"`)))
	r.LazyQuotes = true
	header, err := r.Read()
	if err != nil {
		t.Fatal(err)
	}
	latAt, lonAt := slices.Index(header, "LAT_016"), slices.Index(header, "LONG_017")
	var bridges, bad, decimal int
	for {
		row, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		bridges++
		lat, latErr := geo.ParsePackedLat(row[latAt])
		lon, lonErr := geo.ParsePackedLon(row[lonAt])
		if err := errors.Join(latErr, lonErr); err != nil {
			if !errors.Is(err, geo.ErrInvalid) || !strings.Contains(err.Error(), "seconds") {
				t.Errorf("%s: %v", row[1], err)
			}
			bad++
			continue
		}
		if strings.Contains(row[latAt], ".") {
			decimal++
		}
		// Alaska lies between 51 and 72 north, 129 west and the antimeridian.
		if lat < 51 || lat > 72 || lon < 129 || lon > 180 {
			t.Errorf("%s: %v %v is not in Alaska", row[1], lat, lon)
		}
	}
	if bridges != 1595 || bad != 9 || decimal != 1 {
		t.Errorf("got %d bridges, %d bad, %d in decimals, want 1595, 9, 1", bridges, bad, decimal)
	}
}

func TestParsePackedRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.IntRange(1, 179).Draw(t, "degrees")
		minute := rapid.IntRange(0, 59).Draw(t, "minutes")
		hundredths := rapid.IntRange(0, 5999).Draw(t, "hundredths")
		want := dms(float64(deg), float64(minute), float64(hundredths)/100)
		for _, s := range []string{
			fmt.Sprintf("%03d%02d%04d", deg, minute, hundredths),
			fmt.Sprintf("%d%02d%04d", deg, minute, hundredths),
			fmt.Sprintf("%d%02d%02d.%02d", deg, minute, hundredths/100, hundredths%100),
		} {
			if got, err := geo.ParsePackedLon(s); err != nil || math.Abs(got-want) > 1e-10 {
				t.Fatalf("%s: got %v, %v, want %v", s, got, err, want)
			}
		}
	})
}

func FuzzParsePackedLat(f *testing.F) {
	for _, s := range []string{"32313200", "643659.8", "0", "", "-1", "60196000", "9.9.9", "９"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got, err := geo.ParsePackedLat(s)
		if err == nil && !(got >= 0 && got <= 90) {
			t.Errorf("%q: got %v, outside 0 to 90", s, got)
		}
		if err != nil && (got != 0 || !errors.Is(err, geo.ErrInvalid) && !errors.Is(err, geo.ErrNoPosition)) {
			t.Errorf("%q: got %v with %v", s, got, err)
		}
	})
}

// A bridge in the United States lies west: negate its longitude.
func ExampleParsePackedLon() {
	lat, err := geo.ParsePackedLat("55212367")
	if err != nil {
		fmt.Println(err)
		return
	}
	lon, err := geo.ParsePackedLon("131422649")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.6f %.6f\n", -lon, lat)
	_, err = geo.ParsePackedLon("015138133")
	fmt.Println(err)
	// Output:
	// -131.707358 55.356575
	// longitude "015138133": invalid: 81.33 seconds, must be under 60
}
