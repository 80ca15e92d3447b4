package forecast

import (
	"math"
	"strings"
	"testing"
)

// A strip seal whose feet leave CS1 and CS2 at half-lives of 6 and 4 years, rated
// wrong with a probability of 0.1 that CS2 shares between CS1 and CS3. After 6
// years, by hand, 0.5 of it is in CS1 and
//
//	(1/6) / (1/4 − 1/6) · (2^(−6/6) − 2^(−6/4)) = 0.292893 in CS2
//
// so that what is all seen in CS1 then is truly in CS1 with a probability of
//
//	0.5 · 0.9 / (0.5 · 0.9 + 0.292893 · 0.05) = 0.968482
//
// and else in CS2. More looks at a time are in markov's TestFilterByHand and
// TestFilterAgainstMsm.
func TestStartIsWeighedByRatingErrors(t *testing.T) {
	const weighed = 0.968482
	withErrors := testModel(t, testTables())
	withErrors.rated = ratings(math.Log(0.1 / 0.9))
	without := testModel(t, testTables())
	for _, test := range []struct {
		name  string
		model *Model
		r     Record
		want  [4]float64
	}{
		{
			"no rating errors: as seen", without,
			Record{Stretches: []Stretch{strip(t, "2020-01-01")}, Looks: []Look{look(t, "2026-01-01", 40, 0, 0, 0)}},
			[4]float64{1},
		},
		{
			"from new to the first look", withErrors,
			Record{Stretches: []Stretch{strip(t, "2020-01-01")}, Looks: []Look{look(t, "2026-01-01", 40, 0, 0, 0)}},
			[4]float64{weighed, 1 - weighed},
		},
		{
			"all of it repaired in between", withErrors,
			Record{
				Stretches: []Stretch{strip(t, "2010-01-01")}, Looks: []Look{look(t, "2019-01-01", 0, 20, 20, 0), look(t, "2026-01-01", 40, 0, 0, 0)},
				Work: []Work{{On: day(t, "2020-01-01"), Treatment: "patch", ToFt: 40}},
			},
			[4]float64{weighed, 1 - weighed},
		},
		{
			"installation not on record: the first look at its word", withErrors,
			Record{
				Stretches: []Stretch{{ID: 1, ToFt: 40, Seals: []Seal{{Kind: "strip seal"}}}},
				Looks:     []Look{look(t, "2020-01-01", 40, 0, 0, 0), look(t, "2026-01-01", 40, 0, 0, 0)},
			},
			[4]float64{weighed, 1 - weighed},
		},
		{
			"one look, installation not on record: as seen", withErrors,
			Record{Stretches: []Stretch{{ID: 1, ToFt: 40, Seals: []Seal{{Kind: "strip seal"}}}}, Looks: []Look{look(t, "2026-01-01", 10, 20, 10, 0)}},
			[4]float64{.25, .5, .25},
		},
		{
			"two states better, as no error explains: as seen", withErrors,
			Record{Stretches: []Stretch{strip(t, "2010-01-01")}, Looks: []Look{look(t, "2024-01-01", 0, 0, 40, 0), look(t, "2026-01-01", 40, 0, 0, 0)}},
			[4]float64{1},
		},
		{
			"only the latest possible date is known: as seen", withErrors,
			Record{Stretches: []Stretch{strip(t, "2020-01-01")}, Looks: []Look{{On: day(t, "2026-01-01"), Latest: true, Feet: []StretchFeet{{1, [4]float64{40}}}}}},
			[4]float64{1},
		},
	} {
		test.r.LengthFt = 40
		f, reason := test.model.Project(&test.r, day(t, "2026-01-01"), 2030)
		if reason != "" {
			t.Fatal(test.name, reason)
		}
		for i, want := range test.want {
			if math.Abs(f.NowShares[i]-want) > 2e-4 {
				t.Errorf("%s: %.5f in CS%d, want %.5f", test.name, f.NowShares[i], i+1, want)
			}
		}
	}
}

// A joint seen in CS1 twice and then in CS2 a year on may be in CS1 still, for a large
// part, where ratings err, and fails later than at the word of the last look.
func TestOneWrongLookIsNotTheWholeStory(t *testing.T) {
	m := testModel(t, testTables())
	r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2020-01-01")}, Looks: []Look{
		look(t, "2024-01-01", 40, 0, 0, 0), look(t, "2025-01-01", 40, 0, 0, 0), look(t, "2026-01-01", 0, 40, 0, 0),
	}}
	word, _ := m.Project(r, day(t, "2026-01-01"), 2040)
	m.rated = ratings(math.Log(0.1 / 0.9))
	weighed, _ := m.Project(r, day(t, "2026-01-01"), 2040)
	if word.NowShares[1] != 1 || weighed.NowShares[0] < 0.3 {
		t.Errorf("shares %.3f at its word, %.3f weighed", word.NowShares, weighed.NowShares)
	}
	if !(weighed.FailedBy(2030) < word.FailedBy(2030)) {
		t.Errorf("failed by 2030: %.3f weighed, %.3f at its word", weighed.FailedBy(2030), word.FailedBy(2030))
	}
}

// The forecast of a fit with rating errors says that it weighs inspections by them.
func TestFitWithRatingErrorsWeighsTheStart(t *testing.T) {
	tables := testTables()
	tables.Fit = &Fit{Settings: FitSettings{RatingError: true}, Theta: []float64{-2, -2, -2, math.Log(0.1 / 0.9)}, Covariance: make([]float64, 16)}
	for i := range 4 {
		tables.Fit.Covariance[5*i] = 0.0004
	}
	tables.Fit.Report.Pieces = 3
	m := testModel(t, tables)
	r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2020-01-01")}, Looks: []Look{look(t, "2026-01-01", 40, 0, 0, 0)}}
	f, reason := m.Project(r, day(t, "2026-01-01"), 2040)
	if reason != "" {
		t.Fatal(reason)
	}
	if f.NowShares[0] > 0.99 || f.NowShares[0] < 0.9 || !strings.Contains(f.Basis, "rating errors") {
		t.Errorf("shares %v, basis %q", f.NowShares, f.Basis)
	}
}
