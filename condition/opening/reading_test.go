package opening_test

import (
	"errors"
	"math"
	"testing"

	"reseal/condition/opening"
)

func TestReading(t *testing.T) {
	modular := opening.Modular{Cells: 5, CentreBeamsIn: 10}
	tests := []struct {
		name      string
		m         opening.Measurement
		skew      float64
		shape     opening.Modular
		gap, temp float64
		tape      float64
	}{
		{"plain", opening.Measurement{Gap: 2, Temp: 60}, 30, opening.Modular{}, 2, 60, 0},
		{"metric", opening.Measurement{Gap: 50.8, Temp: 20, Metric: true}, 0, opening.Modular{}, 2, 68, 0},
		{"along traffic", opening.Measurement{Gap: 2, Temp: 60, Along: true}, 60, opening.Modular{}, 1, 60, 0},
		{"left skew is as right", opening.Measurement{Gap: 2, Temp: 60, Along: true}, -60, opening.Modular{}, 1, 60, 0},
		{"one cell of five", opening.Measurement{Gap: 0.9, Temp: 64, OneCell: true}, 0, modular, 4.5, 64, 5.0 / 16},
		{"whole of five", opening.Measurement{Gap: 14.5, Temp: 64}, 0, modular, 4.5, 64, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := tt.m.Reading(tt.skew, tt.shape, opening.Settings{})
			if err != nil {
				t.Fatal(err)
			}
			near(t, "gap", got.GapIn, tt.gap, 1e-12)
			near(t, "temperature", got.DeckTempF, tt.temp, 1e-12)
			near(t, "tape", got.TapeIn, tt.tape, 1e-12)
		})
	}
	if _, err := (opening.Measurement{Gap: 1, Temp: 60, OneCell: true}).Reading(0, opening.Modular{}, opening.Settings{}); !errors.Is(err, opening.ErrInvalid) {
		t.Errorf("one cell of a plain joint: got error %v, want ErrInvalid", err)
	}
}

// A joint that opens as a wedge, with a visit that missed one curb: the
// openings and offsets it was made from come back.
func TestPool(t *testing.T) {
	offset := map[string]float64{"left curb": -0.25, "lane 1": 0, "right curb": 0.25}
	open := map[float64]float64{2020.5: 2.0, 2022.5: 1.5, 2024.5: 2.4}
	var ms []opening.Measurement
	for _, year := range []float64{2020.5, 2022.5, 2024.5} {
		for _, place := range []string{"right curb", "lane 1", "left curb"} {
			if year == 2024.5 && place == "left curb" {
				continue
			}
			ms = append(ms, opening.Measurement{Year: year, Gap: open[year] + offset[place], Temp: 60, Position: place, Faces: "armour"})
		}
	}
	readings, offsets, err := opening.Pool(ms, 0, opening.Modular{}, opening.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if len(readings) != 3 || len(offsets) != 3 {
		t.Fatalf("got %d visits and %d positions, want 3 and 3", len(readings), len(offsets))
	}
	for _, r := range readings {
		near(t, "opening", r.GapIn, open[r.Year], 1e-6)
	}
	for i, place := range []string{"lane 1", "left curb", "right curb"} {
		if offsets[i].Position != place {
			t.Errorf("position %d: got %q, want %q", i, offsets[i].Position, place)
		}
		near(t, place, offsets[i].OffsetIn, offset[place], 1e-6)
	}
	near(t, "tape of three", readings[0].TapeIn, 1.0/16/math.Sqrt(3), 1e-12)

	l := fit(t, opening.Joint{ExpansionLengthFt: 100}, readings...)
	mean, wide := l.At(60, 2026), l.Shift(0.25)
	atWide := wide.At(60, 2026)
	near(t, "line at the wide end", atWide.MeanIn()-mean.MeanIn(), 0.25, 1e-12)

	ms[0].Faces = "headers"
	if _, _, err := opening.Pool(ms, 0, opening.Modular{}, opening.Settings{}); !errors.Is(err, opening.ErrInvalid) {
		t.Errorf("two kinds of faces: got error %v, want ErrInvalid", err)
	}
}

func TestProposeExpansionLength(t *testing.T) {
	joint, fixed, both, none := opening.Support{Joint: true}, opening.Support{Fixed: true}, opening.Support{Joint: true, Fixed: true}, opening.Support{}
	tests := []struct {
		name     string
		spans    []float64
		supports []opening.Support
		at       int
		want     float64
		assumed  bool
	}{
		{"one span, fixed at the far end", []float64{80}, []opening.Support{joint, fixed}, 0, 80, false},
		{"one span, fixity unknown", []float64{80}, []opening.Support{joint, joint}, 0, 40, true},
		{"three spans, fixed at the second pier", []float64{100, 150, 100}, []opening.Support{joint, none, fixed, joint}, 0, 250, false},
		{"the short side of the same", []float64{100, 150, 100}, []opening.Support{joint, none, fixed, joint}, 3, 100, false},
		{"two units at a pier", []float64{100, 120}, []opening.Support{fixed, joint, fixed}, 1, 220, false},
		{"one side known", []float64{100, 120}, []opening.Support{fixed, joint, joint}, 1, 160, true},
		{"fixed under the next joint", []float64{60, 60}, []opening.Support{joint, both, joint}, 0, 60, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := opening.ProposeExpansionLength(tt.spans, tt.supports, tt.at)
			if err != nil {
				t.Fatal(err)
			}
			if want := (opening.Proposal{LengthFt: tt.want, Assumed: tt.assumed}); got != want {
				t.Errorf("got %+v, want %+v", got, want)
			}
		})
	}
	for name, call := range map[string]func() (opening.Proposal, error){
		"no joint": func() (opening.Proposal, error) {
			return opening.ProposeExpansionLength([]float64{80}, []opening.Support{fixed, joint}, 0)
		},
		"support beyond": func() (opening.Proposal, error) {
			return opening.ProposeExpansionLength([]float64{80}, []opening.Support{joint, joint}, 2)
		},
		"span": func() (opening.Proposal, error) {
			return opening.ProposeExpansionLength([]float64{math.NaN()}, []opening.Support{joint, joint}, 0)
		},
	} {
		if _, err := call(); !errors.Is(err, opening.ErrInvalid) {
			t.Errorf("%s: got error %v, want ErrInvalid", name, err)
		}
	}
}

// A tape reads the opening, plus its own error and the deck's uneven warmth:
// the variances add.
func TestReadingAtAddsTheNoise(t *testing.T) {
	j := opening.Joint{Material: opening.Steel, ExpansionLengthFt: 200}
	s := opening.Settings{TapeIn: 0.0625, DeckTempErrF: 6, AirTempErrF: 12}
	line, err := opening.Fit(j, []opening.Reading{{Year: 2024, DeckTempF: 20, GapIn: 2.8}, {Year: 2025, DeckTempF: 80, GapIn: 1.9}}, s)
	if err != nil {
		t.Fatal(err)
	}
	slope := 12 * 6.5e-6 * 200.0
	for name, tt := range map[string]struct {
		air  bool
		errF float64
	}{"deck": {false, 6}, "air": {true, 12}} {
		true_, read := line.At(50, 2026), line.ReadingAt(50, 2026, tt.air, s)
		want := math.Sqrt(math.Pow(true_.SDIn(), 2) + 0.0625*0.0625 + math.Pow(slope*tt.errF, 2))
		if got := read.SDIn(); math.Abs(got-want) > 1e-9 || read.MeanIn() != true_.MeanIn() {
			t.Errorf("%s: got sd %.6f, mean %.6f; want sd %.6f, mean %.6f", name, got, read.MeanIn(), want, true_.MeanIn())
		}
	}
}
