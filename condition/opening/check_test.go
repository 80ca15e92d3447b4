package opening_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"reseal/condition/opening"
)

// Verdicts on joints whose state is plain from their (invented) readings.
func TestJudge(t *testing.T) {
	steel := opening.Joint{ExpansionLengthFt: 300, Climate: opening.Moderate} // 2.81 in of movement
	series := func(b, c float64, temps ...float64) []opening.Reading {
		var readings []opening.Reading
		for i, f := range temps {
			year := 2012 + 2*float64(i)
			readings = append(readings, opening.Reading{Year: year, DeckTempF: f, GapIn: 2 + b*(f-60) + c*(year-2012)})
		}
		return readings
	}
	swings := []float64{30, 95, 40, 88, 25, 100, 35, 92}
	b0 := steel.SlopeInPerF()
	tests := []struct {
		name     string
		joint    opening.Joint
		readings []opening.Reading
		limits   opening.Limits
		want     opening.Finding
		say      string
	}{
		{"fits", steel, series(b0, 0, swings...), opening.Limits{MinIn: 0, MaxIn: 4}, 0, "fits the gap"},
		{"too wide when cold", steel, series(b0, 0, swings...), opening.Limits{MinIn: 0, MaxIn: 3}, opening.TooWideCold, "too wide when cold"},
		{"crushed when hot", steel, series(b0, 0, swings...), opening.Limits{MinIn: 1, MaxIn: 4}, opening.CrushedHot, "crushed when hot"},
		{"does not move", steel, series(0, 0, swings...), opening.Limits{MinIn: 0.5, MaxIn: 4}, opening.DoesNotMove, "Does not move"},
		{"drifting", steel, series(b0, 0.15, swings...), opening.Limits{MinIn: 0, MaxIn: 9}, opening.Drifting, "Drifting, opening 0.1"},
		{"cannot tell", steel, series(b0, 0, 58, 62), opening.Limits{MinIn: 0, MaxIn: 5}, opening.CannotTell, "Cannot tell"},
		{"one reading", steel, series(b0, 0, 60), opening.Limits{MinIn: 0, MaxIn: 5}, opening.CannotTell | opening.OneReading, "through one reading"},
		{"no limits", steel, series(b0, 0, swings...), opening.Limits{}, opening.NoLimits, "not on record"},
		{
			"racks",
			opening.Joint{ExpansionLengthFt: 300, SkewDeg: 30, Climate: opening.Moderate},
			series(b0*math.Cos(math.Pi/6), 0, swings...),
			opening.Limits{MinIn: 0, MaxIn: 4, RackingIn: 0.45},
			opening.RackingOver, "Racks 1.40 in",
		},
		{"still and at rest", opening.Joint{Still: true}, series(0, 0, swings...), opening.Limits{MinIn: 1, MaxIn: 3}, 0, "fits the gap"},
		{"still but moves", opening.Joint{Still: true}, series(-0.01, 0, swings...), opening.Limits{MinIn: 0.5, MaxIn: 4}, opening.MovesThoughStill, "should be still"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := fit(t, tt.joint, tt.readings...)
			c := l.Judge(tt.limits, 2026, opening.Settings{})
			if c.Findings != tt.want {
				t.Errorf("findings: got %b, want %b (%s)", c.Findings, tt.want, c.Words())
			}
			if !strings.Contains(c.Words(), tt.say) {
				t.Errorf("words: got %q, want it to say %q", c.Words(), tt.say)
			}
		})
	}
}

func TestCompare(t *testing.T) {
	checks := []*opening.Check{{ProbOut: 0.1}, {ProbOut: 0.9}, {ProbOut: 0.1, StuckWeight: 0.95}}
	slices.SortStableFunc(checks, opening.Compare)
	if checks[0].ProbOut != 0.9 || checks[1].StuckWeight != 0.95 {
		t.Errorf("got order %+v %+v %+v, want worst first", *checks[0], *checks[1], *checks[2])
	}
}

// drawLine is any line that a network can hold.
func drawLine(t *rapid.T) opening.Line {
	j := opening.Joint{
		ExpansionLengthFt: rapid.Float64Range(1, 3000).Draw(t, "length"), SkewDeg: rapid.Float64Range(-60, 60).Draw(t, "skew"),
		Still: rapid.Bool().Draw(t, "still"), Material: opening.Material(rapid.IntRange(0, 2).Draw(t, "material")),
	}
	var readings []opening.Reading
	for range rapid.IntRange(1, 12).Draw(t, "n") {
		readings = append(readings, opening.Reading{
			Year: rapid.Float64Range(1970, 2030).Draw(t, "year"), DeckTempF: rapid.Float64Range(-30, 130).Draw(t, "temp"),
			GapIn: rapid.Float64Range(0, 20).Draw(t, "gap"), AirTemp: rapid.Bool().Draw(t, "air"),
		})
	}
	l, err := opening.Fit(j, readings, opening.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestLineProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLine(t)
		m := opening.Limits{MinIn: rapid.Float64Range(0, 3).Draw(t, "min")}
		m.MaxIn = m.MinIn + rapid.Float64Range(0.1, 10).Draw(t, "range")
		var sum float64
		for _, w := range l.Weights() {
			sum += w
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Fatalf("weights sum to %g", sum)
		}
		cold := l.Cold(2026)
		for _, p := range []float64{0.01, 0.1, 0.5, 0.9, 0.99} {
			if got := cold.ProbBelow(cold.QuantileIn(p)); math.Abs(got-p) > 1e-8 {
				t.Fatalf("P(below the %g quantile) is %g", p, got)
			}
		}
		years := []float64{2020, 2026, 2027, 2031, 2046}
		last := 0.0
		for i, p := range l.OutByYear(nil, m, 2026, years) {
			if !(p >= last-1e-7 && p <= 1) {
				t.Fatalf("out by %g: %g after %g", years[i], p, last)
			}
			last = p
		}
		var many []float64
		for i := range 121 {
			many = append(many, 2025+float64(i)/2)
		}
		for i, p := range l.OutByYear(nil, m, 2026, many) {
			if want := l.OutByYear(nil, m, 2026, many[i:i+1])[0]; math.Abs(p-want) > 1e-5 {
				t.Fatalf("out by %g: %g among many years, %g alone", many[i], p, want)
			}
		}
		c := l.Judge(m, 2026, opening.Settings{})
		if c.ProbOut > c.Cold.ProbNegative+c.Hot.ProbNegative+1e-7 || c.ProbOut < max(c.Cold.ProbNegative, c.Hot.ProbNegative)-1e-7 {
			t.Fatalf("out %g does not lie between its parts %g and %g", c.ProbOut, c.Cold.ProbNegative, c.Hot.ProbNegative)
		}
	})
}

// The order of readings is of no account.
func TestFitOrder(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 200}
	readings := network(1)[0].Readings
	a := fit(t, j, readings...)
	slices.Reverse(readings)
	b := fit(t, j, readings...)
	ca, cb := a.Cold(2030), b.Cold(2030)
	near(t, "mean", ca.MeanIn(), cb.MeanIn(), 1e-10)
	near(t, "sd", ca.SDIn(), cb.SDIn(), 1e-10)
}

func TestExpectedOpenings(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 200, Range: opening.TempRange{MinF: -2, MaxF: 99}}
	l := fit(t, j, opening.Reading{Year: 2024, DeckTempF: 60, GapIn: 2})
	got := l.ExpectedOpenings(2026)
	if len(got) != 22 || got[0].DeckTempF != -5 || got[21].DeckTempF != 100 {
		t.Fatalf("got %d steps from %g to %g °F, want 22 from -5 to 100", len(got), got[0].DeckTempF, got[len(got)-1].DeckTempF)
	}
	near(t, "at the reading", got[13].GapIn, 2, 0.001)
	for _, e := range got {
		if !(e.LowIn < e.GapIn && e.GapIn < e.HighIn) {
			t.Errorf("at %g °F: %g is not within its band %g to %g", e.DeckTempF, e.GapIn, e.LowIn, e.HighIn)
		}
	}
}
