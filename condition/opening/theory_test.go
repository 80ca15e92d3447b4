package opening_test

import (
	"errors"
	"math"
	"testing"

	"reseal/condition/opening"
)

const wsdot = "from memory of WSDOT Bridge Design Manual M 23-50, chapter 9.1"

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.5f, want %.5f", what, got, want)
	}
}

// From memory of AASHTO LRFD Bridge Design Specifications (9th ed.), Table
// 3.12.2.1-1 and C3.12.2.1; movement per 100 ft worked out from them.
func TestProcedureA(t *testing.T) {
	tests := []struct {
		name          string
		material      opening.Material
		freezingDays  float64
		min, max      float64
		per100Ft, x12 float64
	}{
		{"steel, moderate", opening.Steel, 13, 0, 120, 0.936, 1.123},
		{"steel, cold", opening.Steel, 14, -30, 120, 1.170, 1.404},
		{"concrete, moderate", opening.Concrete, 0, 10, 80, 0.504, 0.605},
		{"concrete, cold", opening.Concrete, 90, 0, 80, 0.576, 0.691},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			j := opening.Joint{ExpansionLengthFt: 100, Material: tt.material, Climate: opening.ClimateOf(tt.freezingDays)}
			if got, want := j.TempRange(), (opening.TempRange{MinF: tt.min, MaxF: tt.max}); got != want {
				t.Errorf("range: got %v, want %v", got, want)
			}
			near(t, "movement", j.MovementIn(tt.min, tt.max), tt.per100Ft, 5e-4)
			near(t, "factored", j.Demand(50, 1.2).TotalIn(), tt.x12, 6e-4)
		})
	}
}

// Metric examples, through the conversions at entry.
func TestMetricMovement(t *testing.T) {
	tests := []struct {
		name, source         string
		lengthM, alphaC      float64
		fromC, toC           float64
		wantMM, tolerance    float64
		knownWrong           float64
		factors, ultimateEnd float64
	}{
		{
			name: "prestressed deck", source: "UK abutment example to BD 30 and BS 5400",
			lengthM: 20, alphaC: 12e-6, fromC: -11, toC: 36, wantMM: 11.3, tolerance: 0.05, factors: 1.1 * 1.3, ultimateEnd: 8.07,
		},
		{name: "steel, whole range", source: "beta.arizval.app bridge engineering example 1, inputs; answer worked out", lengthM: 80, alphaC: 11.7e-6, fromC: -30, toC: 50, wantMM: 74.88, tolerance: 0.005},
		{name: "steel, expansion", source: "as before", lengthM: 80, alphaC: 11.7e-6, fromC: 15, toC: 50, wantMM: 32.76, tolerance: 0.005},
		{name: "steel, contraction", source: "as before", lengthM: 80, alphaC: 11.7e-6, fromC: 15, toC: -30, wantMM: -42.12, tolerance: 0.005},
		{
			name: "published answer is wrong", source: "surveyspannovation.com quiz 55 prints about 240 mm; the formula gives 286",
			lengthM: 365, alphaC: 11.7e-6, fromC: 0, toC: 67, wantMM: 286, tolerance: 0.5, knownWrong: 240,
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			j := opening.Joint{ExpansionLengthFt: opening.FeetOf(tt.lengthM), AlphaPerF: opening.AlphaPerFOf(tt.alphaC)}
			got := j.MovementIn(opening.FahrenheitOf(tt.fromC), opening.FahrenheitOf(tt.toC)) / opening.InPerMM
			near(t, tt.source, got, tt.wantMM, tt.tolerance)
			if tt.factors > 0 {
				near(t, "ultimate at one end", got/2*tt.factors, tt.ultimateEnd, 0.005)
			}
			if tt.knownWrong > 0 && math.Abs(got-tt.knownWrong) < 40 {
				t.Errorf("got %.1f mm: matches the wrong published answer %.0f", got, tt.knownWrong)
			}
		})
	}
}

func TestFitRefusesJoint(t *testing.T) {
	reading := []opening.Reading{{Year: 2024, DeckTempF: 60, GapIn: 2}}
	tests := []struct {
		name  string
		joint opening.Joint
	}{
		{"no expansion length", opening.Joint{}},
		{"negative length", opening.Joint{ExpansionLengthFt: -1}},
		{"length not a number", opening.Joint{ExpansionLengthFt: math.NaN()}},
		{"skew", opening.Joint{ExpansionLengthFt: 100, SkewDeg: 90}},
		{"skew not a number", opening.Joint{ExpansionLengthFt: 100, SkewDeg: math.NaN()}},
		{"range upside down", opening.Joint{ExpansionLengthFt: 100, Range: opening.TempRange{MinF: 80, MaxF: 10}}},
		{"shrinkage not a number", opening.Joint{ExpansionLengthFt: 100, ShrinkageIn: math.NaN()}},
		{"coefficient", opening.Joint{ExpansionLengthFt: 100, AlphaPerF: math.Inf(1)}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := opening.Fit(tt.joint, reading, opening.Settings{}); !errors.Is(err, opening.ErrInvalid) {
				t.Errorf("got error %v, want ErrInvalid", err)
			}
		})
	}
}

func TestFitRefusesReadings(t *testing.T) {
	joint := opening.Joint{ExpansionLengthFt: 100}
	tests := []struct {
		name     string
		readings []opening.Reading
	}{
		{"none", nil},
		{"gap", []opening.Reading{{Year: 2024, DeckTempF: 60, GapIn: math.NaN()}}},
		{"temperature", []opening.Reading{{Year: 2024, DeckTempF: math.Inf(1), GapIn: 2}}},
		{"year", []opening.Reading{{Year: math.NaN(), DeckTempF: 60, GapIn: 2}}},
		{"tape", []opening.Reading{{Year: 2024, DeckTempF: 60, GapIn: 2, TapeIn: -1}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := opening.Fit(joint, tt.readings, opening.Settings{}); !errors.Is(err, opening.ErrInvalid) {
				t.Errorf("got error %v, want ErrInvalid", err)
			}
		})
	}
}
