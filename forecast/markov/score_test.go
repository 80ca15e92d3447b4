package markov

import (
	"errors"
	"math"
	"testing"
)

func TestScoreForecasts(t *testing.T) {
	// By hand: squares .01, .04, .09 (failed at .7), .01 (failed at .9).
	s, err := ScoreForecasts([]Forecast{{.1, false}, {.2, false}, {.7, true}, {.9, true}})
	if err != nil {
		t.Fatal(err)
	}
	if s.Count != 4 || s.Failed != 2 || math.Abs(s.Brier-0.0375) > 1e-15 {
		t.Errorf("score %+v", s)
	}
	if want := -math.Log(.9*.8*.7*.9) / 4; math.Abs(s.Log-want) > 1e-15 {
		t.Errorf("log score %v, want %v", s.Log, want)
	}
	count := 0
	for _, d := range s.Deciles {
		count += d.Count
	}
	if count != 4 {
		t.Errorf("deciles hold %d forecasts, want 4", count)
	}
	if got := Skill(s.Brier, .25); math.Abs(got-.85) > 1e-15 {
		t.Errorf("skill %v, want 0.85", got)
	}
	sure, _ := ScoreForecasts([]Forecast{{0, true}})
	if math.IsInf(sure.Log, 0) || sure.Brier != 1 {
		t.Errorf("certain and wrong: %+v", sure)
	}
	for _, bad := range [][]Forecast{{{.5, true}, {.4, true}}, {{1.1, true}}, {{math.NaN(), true}}} {
		if _, err := ScoreForecasts(bad); !errors.Is(err, ErrInvalid) {
			t.Errorf("%v: error %v", bad, err)
		}
	}
}
