package money

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// invented prices
var reseal = UnitCosts{
	Treatment: "reseal", PerFootCents: 145_00, FixedCents: 800_00,
	MobilisationCents: 2_500_00, TrafficControlCents: 4_000_01, PriceYear: 2024, Illustrative: true,
}

// Worked by hand: two joints of 40 and 60 ft in one visit.
//
//	joint A  40 x 145.00 = 5,800.00; fixed 800.00
//	         mobilisation 2/5 of 2,500.00 = 1,000.00
//	         traffic 2/5 of 4,000.01 = 1,600.004 -> 1,600.00
//	         sum 9,200.00; region +20 % 1,840.00; 11,040.00
//	         contingency 10 % 1,104.00; constant 12,144.00
//	         prices 1.03^2 - 1 = 0.0609: 739.57; nominal 12,883.57
func TestEstimateLineByLine(t *testing.T) {
	raised := reseal
	raised.RegionalFactor, raised.ContingencyShare = 1.2, 0.1
	visit := Visit{Jobs: []Job{{"A", 40, raised}, {"B", 60, raised}}, Prices: Prices{RatePerYear: 0.03}, Year: 2026}
	got, err := visit.Estimates()
	if err != nil {
		t.Fatal(err)
	}
	want := Estimate{
		Joint: "A", Treatment: "reseal", PriceYear: 2024, Year: 2026, Illustrative: true,
		Constant: 12_144_00, Nominal: 12_883_57,
		Lines: []Line{
			{"reseal", 40, "ft", 145_00, 5_800_00},
			{"fixed part", 1, "joint", 800_00, 800_00},
			{"mobilisation", 0.4, "of visit", 2_500_00, 1_000_00},
			{"traffic control", 1600_00.0 / 4000_01, "of visit", 4_000_01, 1_600_00},
			{"regional factor", 0.2, "of above", 9_200_00, 1_840_00},
			{"contingency", 0.1, "of above", 11_040_00, 1_104_00},
			{"prices 2024 to 2026", 0.0609, "of above", 12_144_00, 739_57},
		},
	}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })
	if diff := cmp.Diff(want, got[0], near); diff != "" {
		t.Errorf("joint A (-want +got):\n%s", diff)
	}
	if b := got[1].Lines[3].AmountCents; b != 2_400_01 {
		t.Errorf("traffic control of joint B: got %d, want 2,400.01, the rest of the visit's", b)
	}
	if own, visit := raised.OwnCents(40), raised.VisitCents(); math.Abs(own-6_600_00*1.32) > 1e-6 || visit != 8_580_01 {
		t.Errorf("apart from lines: own %g, visit %d; want 6,600.00 and 6,500.01 times 1.32", own, visit)
	}
	raised.PerFootCents, raised.FixedCents, raised.AgreedCents = 0, 0, 5_000_00
	if agreed, err := (Visit{Jobs: []Job{{"A", 40, raised}}, Year: 2024}).Estimates(); err != nil || agreed[0].Nominal != 5_000_00+8_580_01 {
		t.Errorf("got %+v, %v; want the sum set and the raised visit", agreed, err)
	}
}

func TestEstimatesSumExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(rapid.Float64Range(0, 200), 1, 8).Draw(t, "lengths")
		visit := Visit{Prices: Prices{RatePerYear: rapid.Float64Range(-0.02, 0.1).Draw(t, "rise")}, Year: 2031}
		var dearest int64
		raised := reseal
		raised.RegionalFactor = rapid.Float64Range(0.5, 2).Draw(t, "region")
		raised.ContingencyShare = rapid.Float64Range(0, 0.5).Draw(t, "contingency")
		for _, l := range lengths {
			c := raised
			c.MobilisationCents = rapid.Int64Range(0, 1e7).Draw(t, "mobilisation")
			dearest = max(dearest, c.MobilisationCents)
			visit.Jobs = append(visit.Jobs, Job{LengthFt: l, Costs: c})
		}
		estimates, err := visit.Estimates()
		if err != nil {
			t.Fatal(err)
		}
		var mobilisation int64
		for _, e := range estimates {
			var constant, nominal int64
			for _, l := range e.Lines {
				nominal += l.AmountCents
				if !strings.HasPrefix(l.Label, "prices") {
					constant += l.AmountCents
				}
				if l.Label == "mobilisation" {
					mobilisation += l.AmountCents
				}
				if got := math.Abs(l.Quantity*float64(l.RateCents) - float64(l.AmountCents)); got > 0.51 {
					t.Errorf("line %+v is off by %g cents", l, got)
				}
			}
			if Constant(constant) != e.Constant || Nominal(nominal) != e.Nominal {
				t.Errorf("lines sum to %d and %d, want %d and %d", constant, nominal, e.Constant, e.Nominal)
			}
		}
		if mobilisation != dearest {
			t.Errorf("mobilisation shares sum to %d, want the dearest, %d", mobilisation, dearest)
		}
	})
}

func TestOneVisitNeverCostsMoreThanTwo(t *testing.T) {
	total := func(visits ...Visit) (sum Nominal) {
		for _, v := range visits {
			estimates, err := v.Estimates()
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range estimates {
				sum += e.Nominal
			}
		}
		return sum
	}
	a, b := Job{"A", 40, reseal}, Job{"B", 60, reseal}
	together := total(Visit{Jobs: []Job{a, b}, Year: 2024})
	apart := total(Visit{Jobs: []Job{a}, Year: 2024}, Visit{Jobs: []Job{b}, Year: 2024})
	if got, want := apart-together, Nominal(6_500_01); got != want {
		t.Errorf("saving of one visit: got %v, want %v, one mobilisation and closure", got, want)
	}
}

func TestEstimateRefusals(t *testing.T) {
	old, negative, below, endless, elsewhere := reseal, reseal, reseal, reseal, reseal
	old.PriceYear, below.RegionalFactor, endless.ContingencyShare, elsewhere.RegionalFactor = 2020, -1, math.NaN(), 1.1
	negative.FixedCents = -1
	for _, tt := range []struct {
		name  string
		visit Visit
		want  error
	}{
		{"two price years", Visit{Jobs: []Job{{"A", 40, reseal}, {"B", 60, old}}, Year: 2026}, ErrInvalid},
		{"negative cost", Visit{Jobs: []Job{{"A", 40, negative}}, Year: 2026}, ErrInvalid},
		{"negative length", Visit{Jobs: []Job{{"A", -40, reseal}}, Year: 2026}, ErrInvalid},
		{"length not a number", Visit{Jobs: []Job{{"A", math.NaN(), reseal}}, Year: 2026}, ErrInvalid},
		{"length beyond any amount", Visit{Jobs: []Job{{"A", 1e300, reseal}}, Year: 2026}, ErrInvalid},
		{"negative region", Visit{Jobs: []Job{{"A", 40, below}}, Year: 2026}, ErrInvalid},
		{"contingency not a number", Visit{Jobs: []Job{{"A", 40, endless}}, Year: 2026}, ErrInvalid},
		{"two regions", Visit{Jobs: []Job{{"A", 40, reseal}, {"B", 60, elsewhere}}, Year: 2026}, ErrInvalid},
		{"no price level", Visit{Jobs: []Job{{"A", 40, reseal}}, Prices: Prices{Index: nhcci(t)}, Year: 2010}, ErrNoPrice},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := tt.visit.Estimates(); !errors.Is(err, tt.want) {
				t.Errorf("got %v, want %v", err, tt.want)
			}
		})
	}
	if got, err := (Visit{}).Estimates(); len(got) != 0 || err != nil {
		t.Errorf("empty visit: got %v, %v; want nothing", got, err)
	}
}

func TestUnitCostsAtAnotherYear(t *testing.T) {
	got, err := reseal.AtYear(Prices{RatePerYear: 0.03}, 2026)
	want := reseal
	want.PerFootCents, want.FixedCents, want.MobilisationCents, want.TrafficControlCents, want.PriceYear = 153_83, 848_72, 2_652_25, 4_243_61, 2026
	if err != nil || got != want {
		t.Errorf("got %+v, %v; want %+v", got, err, want)
	}
}
