package money

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestFormat(t *testing.T) {
	for _, tt := range []struct {
		cents           int64
		want, wantWhole string
	}{
		{0, "0.00", "0"},
		{-5, "-0.05", "0"},
		{-50, "-0.50", "-1"},
		{99_949, "999.49", "999"},
		{99_950, "999.50", "1,000"},
		{1_234_567_89, "1,234,567.89", "1,234,568"},
		{math.MinInt64, "-92,233,720,368,547,758.08", "-92,233,720,368,547,758"},
	} {
		if got := Format(tt.cents); got != tt.want {
			t.Errorf("Format(%d) = %s, want %s", tt.cents, got, tt.want)
		}
		if got := FormatDollars(tt.cents); got != tt.wantWhole {
			t.Errorf("FormatDollars(%d) = %s, want %s", tt.cents, got, tt.wantWhole)
		}
	}
}

func TestParse(t *testing.T) {
	for _, tt := range []struct {
		in   string
		want int64
	}{
		{"1234.5", 1234_50}, {"$1,234.50", 1234_50}, {" -12 ", -12_00}, {"0", 0}, {"-$0.05", -5}, {"007", 7_00},
	} {
		if got, err := Parse(tt.in); got != tt.want || err != nil {
			t.Errorf("Parse(%q) = %d, %v; want %d", tt.in, got, err, tt.want)
		}
	}
	for _, in := range []string{"", "-", "$", "1,2", "12,34.00", "1.", ".5", "1.234", "1.x5", "1e3", "--1", "+1", "NaN", "1 000", "99999999999999999", "1,,000", ",123"} {
		if got, err := Parse(in); !errors.Is(err, ErrInvalid) {
			t.Errorf("Parse(%q) = %d, %v; want ErrInvalid", in, got, err)
		}
	}
}

func TestParseReadsWhatFormatWrites(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cents := rapid.Int64Range(-maxCents, maxCents).Draw(t, "cents")
		if got, err := Parse(Format(cents)); got != cents || err != nil {
			t.Fatalf("Parse(%s) = %d, %v; want %d", Format(cents), got, err, cents)
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1,234.56", "-$0.05", "007", "1.2.3", "9007199254740992"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		cents, err := Parse(s)
		if err != nil {
			return
		}
		if again, err := Parse(Format(cents)); again != cents || err != nil {
			t.Errorf("Parse(%q) = %d, but %s reads as %d, %v", s, cents, Format(cents), again, err)
		}
	})
}
