package opening_test

import (
	"testing"

	"reseal/condition/opening"
)

// A known line (many readings on theory) against single limits: each failing
// row names its limit and by how much. Invented joint; 1.872 in of movement.
func TestChooseSaysWhy(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 200, SkewDeg: 0, Climate: opening.Moderate}
	l := wellKnown(t, j, 2.0)
	coldQ := l.Cold(2026)
	hotQ := l.Hot(2026)
	coldIn, hotIn := coldQ.QuantileIn(0.95), hotQ.QuantileIn(0.05)
	tests := []struct {
		name string
		seal opening.Seal
		want opening.Limit
		by   float64
	}{
		{"fits", opening.Seal{MinIn: 0.5, MaxIn: 4}, "", 0},
		{"cold", opening.Seal{MinIn: 0.5, MaxIn: 2.5}, opening.LimitCold, coldIn - 2.5},
		{"hot", opening.Seal{MinIn: 1.5, MaxIn: 4}, opening.LimitHot, 1.5 - hotIn},
		{"install at least", opening.Seal{MinIn: 0.5, MaxIn: 4, InstallMinIn: 2.5}, opening.LimitInstallMin, 0.5},
		{"install at most", opening.Seal{MinIn: 0.5, MaxIn: 4, InstallMaxIn: 1.75}, opening.LimitInstallMax, 0.25},
		{"install temperature", opening.Seal{MinIn: 0.5, MaxIn: 4, InstallMinF: 65}, opening.LimitInstallF, 5},
		{"movement", opening.Seal{MovementIn: 1}, opening.LimitMovement, 0.872},
		{"share of width", opening.Seal{MovementShare: 1.0 / 6}, opening.LimitMovement, 1.872 - 2.0/6},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := l.Choose([]opening.Seal{tt.seal}, opening.ChooseOptions{Year: 2026, InstallTempF: 60})
			got := c.Trials[0]
			if tt.want == "" {
				if !got.Fits || c.Best != 0 {
					t.Errorf("got %+v, want a fit", got)
				}
				return
			}
			if got.Fits || c.Best != -1 || len(got.Failures) != 1 || got.Failures[0].Limit != tt.want {
				t.Fatalf("got %+v, want it to fail %q only", got, tt.want)
			}
			near(t, "by", got.Failures[0].By, tt.by, 0.12)
		})
	}
}

func TestChooseSkewAndRacking(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 100, SkewDeg: 35, Climate: opening.Moderate}
	l := wellKnown(t, j, 2.0)
	c := l.Choose([]opening.Seal{{MinIn: 0, MaxIn: 5, SkewMaxDeg: 30, RackingIn: 0.45}}, opening.ChooseOptions{Year: 2026})
	got := c.Trials[0].Failures
	if len(got) != 2 || got[0].Limit != opening.LimitRacking || got[1].Limit != opening.LimitSkew {
		t.Fatalf("got %+v, want racking and skew", got)
	}
	near(t, "racking", got[0].By, 0.936*0.573576-0.45, 1e-4)
	near(t, "skew", got[1].By, 5, 1e-9)
}

// The smallest that fits is proposed whatever the order of the table, and an
// uncertain line asks for more room than a sure one.
func TestChooseSmallest(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 200, Climate: opening.Moderate}
	table := []opening.Seal{
		{Size: "large", MinIn: 0.25, MaxIn: 6},
		{Size: "small", MinIn: 1.1, MaxIn: 2.7},
		{Size: "exact", MinIn: 0.85, MaxIn: 3.15},
		{Size: "medium", MinIn: 0.5, MaxIn: 4},
	}
	sure := wellKnown(t, j, 2.0)
	unsure := fit(t, j, opening.Reading{Year: 2024, DeckTempF: 60, GapIn: 2})
	for _, tt := range []struct {
		name string
		line opening.Line
		want string
	}{{"sure", sure, "exact"}, {"one reading", unsure, "medium"}} {
		c := tt.line.Choose(table, opening.ChooseOptions{Year: 2026})
		if c.Best < 0 || c.Trials[c.Best].Seal.Size != tt.want {
			t.Errorf("%s: got %+v, want %s", tt.name, c, tt.want)
		}
	}
}

// wellKnown is the line of forty readings that lie on theory.
func wellKnown(t *testing.T, j opening.Joint, at60In float64) opening.Line {
	t.Helper()
	var readings []opening.Reading
	for i := range 40 {
		f := 20 + 80*float64(i%9)/8
		readings = append(readings, opening.Reading{Year: 2020 + 0.1*float64(i), DeckTempF: f, GapIn: j.OpeningIn(at60In, 60, f)})
	}
	return fit(t, j, readings...)
}
