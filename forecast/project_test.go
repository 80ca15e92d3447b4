package forecast

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"reseal/forecast/money"
	"reseal/inventory"
)

// testTables are values for which answers can be worked by hand: half of the
// feet leave CS3 within 4 years, joints don't differ and are one piece, so that
// the probability of failure is the mean share that has reached CS4.
func testTables() *Tables {
	s := DefaultSettings()
	s.Pieces, s.PaceK = 1, math.Inf(1)
	return &Tables{
		Settings: s, Prices: money.Prices{RatePerYear: s.PriceGrowth},
		Lives: []Life{
			{Kind: "strip seal", CS1Years: 6, CS2Years: 4, CS3Years: 4, Source: "test"},
			{Kind: "other", CS1Years: 5, CS2Years: 3, CS3Years: 3, Source: "illustrative", Illustrative: true},
		},
		Treatments: []Treatment{
			{Name: "reseal", CostPerFtCents: 100_00, FixedCents: 1_000_00, VisitCents: 5_000_00, PriceYear: 2026, Source: "test"},
			{Name: "new gland", ForKinds: "modular joint; strip seal", CostPerFtCents: 200_00, PriceYear: 2026, Source: "test"},
		},
		Consequences: []Consequence{
			{Cause: "water", DollarsAYear: 60, Per: "ft", Deicing: "moderate"},
			{Cause: "water", DollarsAYear: 90, Per: "ft", Deicing: "heavy"},
			{Cause: "ride", DollarsAYear: 40, Per: "1000 vehicles a day"},
			{Cause: "inspection", DollarsAYear: 7, Per: "joint"},
		},
	}
}

func testModel(t testing.TB, tables *Tables) *Model {
	t.Helper()
	m, err := NewModel(tables)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func day(t testing.TB, s string) inventory.Date {
	t.Helper()
	d, err := inventory.ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func strip(t testing.TB, installed string) Stretch {
	return Stretch{ID: 1, ToFt: 40, Seals: []Seal{{Kind: "strip seal", Installed: day(t, installed)}}}
}

func look(t testing.TB, on string, ft ...float64) Look {
	return Look{On: day(t, on), Observed: true, Feet: []StretchFeet{{StretchID: 1, StateFt: [4]float64(ft)}}}
}

// One foot in four states: all 40 ft are in CS3, of which half reach CS4 within
// 4 years, so that after t years a share 1 - 0.5^(t/4) has: the yearly
// probability of staying is 0.5^(1/T), the convention of NCHRP Report 713 vol.
// 1 (from memory). 2026 and 2027 end 365 and 730 days after the inspection, and
// the 50 % year ends after 4 years, which take in a leap day: 2029 ends 1461
// days after, to the day.
func TestProjectByHand(t *testing.T) {
	m := testModel(t, testTables())
	r := &Record{Tag: "J1", LengthFt: 40, Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2026-01-01", 0, 0, 40, 0)}}
	f, reason := m.Project(r, day(t, "2026-01-01"), 2040)
	if reason != "" {
		t.Fatal(reason)
	}
	const tolerance = 2e-3 // of markov.Outlook between its nodes
	for i, days := range []float64{365, 730, 1095, 1461} {
		want := 1 - math.Pow(0.5, days/365.25/4)
		if math.Abs(f.Failed[i]-want) > tolerance {
			t.Errorf("failed by the end of %d: got %.4f, want %.4f", f.Years[i], f.Failed[i], want)
		}
		if math.Abs(f.Shares[i][3]-want) > tolerance || math.Abs(f.Shares[i][2]-(1-want)) > tolerance {
			t.Errorf("shares at the end of %d: got %.4f, want 0 0 %.4f %.4f", f.Years[i], f.Shares[i], 1-want, want)
		}
	}
	if f.NowFailed != 0 || f.FailedBy(2020) != 0 || f.FailedBy(2027) != f.Failed[1] {
		t.Errorf("failed now %v, by 2020 %v, by 2027 %v", f.NowFailed, f.FailedBy(2020), f.FailedBy(2027))
	}
	// 10 % after 4 log2(1/0.9) = 0.61 years, 90 % after 13.29 years, in April 2039
	if f.EarlyYear != 2026 || f.LateYear != 2039 || f.ReplaceYear < 2029 || f.ReplaceYear > 2030 {
		t.Errorf("got %d (%d to %d), want 2029 or 2030 (2026 to 2039)", f.ReplaceYear, f.EarlyYear, f.LateYear)
	}
	if want := "inspected 2026-01-01; life table, strip seal"; f.Basis != want {
		t.Errorf("basis: got %q, want %q", f.Basis, want)
	}
}

func TestProjectBeyondHorizon(t *testing.T) {
	m := testModel(t, testTables())
	r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2026-01-01")}}
	f, _ := m.Project(r, day(t, "2026-01-01"), 2030)
	if f.ReplaceYear != 0 || f.LateYear != 0 {
		t.Errorf("got replacement in %d, 90 %% in %d; want 0, beyond 2030", f.ReplaceYear, f.LateYear)
	}
}

// A fiscal year from July: the day is in fiscal 2027, which ends in June 2027.
func TestFiscalYears(t *testing.T) {
	tables := testTables()
	tables.Settings.FiscalYearStart = 7
	m := testModel(t, tables)
	r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2026-07-01", 0, 0, 40, 0)}}
	f, _ := m.Project(r, day(t, "2026-07-01"), 2028)
	if f.Years[0] != 2027 || len(f.Years) != 2 {
		t.Fatalf("years: got %v, want 2027 and 2028", f.Years)
	}
	if want := 1 - math.Pow(0.5, 365/365.25/4); math.Abs(f.Failed[0]-want) > 2e-3 {
		t.Errorf("failed by the end of fiscal 2027: got %.4f, want %.4f", f.Failed[0], want)
	}
}

// What a projection starts from.
func TestStart(t *testing.T) {
	half := Stretch{ID: 2, FromFt: 40, ToFt: 80, Seals: []Seal{{Kind: "strip seal", Installed: day(t, "2010-06-01")}}}
	spot := Work{On: day(t, "2025-06-01"), Treatment: "spot repair", ToFt: 10}
	for _, test := range []struct {
		name   string
		record Record
		asOf   string
		since  string
		shares [4]float64
		basis  string
		reason Reason
	}{
		{
			name: "inspection", since: "2025-01-01", shares: [4]float64{0.5, 0.25, 0.125, 0.125}, basis: "inspected 2025-01-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2023-01-01", 40, 0, 0, 0), look(t, "2025-01-01", 20, 10, 5, 5)}},
		},
		{
			name: "feet not seen are left out", since: "2025-01-01", shares: [4]float64{0.5, 0.5, 0, 0}, basis: "inspected 2025-01-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2025-01-01", 5, 5, 0, 0)}},
		},
		{
			name: "nothing seen last time", since: "2023-01-01", shares: [4]float64{0, 1, 0, 0}, basis: "inspected 2023-01-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2023-01-01", 0, 40, 0, 0), look(t, "2025-01-01", 0, 0, 0, 0)}},
		},
		{
			name: "never inspected", since: "2010-06-01", shares: asNew, basis: "never inspected, sealed 2010-06-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}},
		},
		{name: "nothing known", reason: NeverInspected, record: Record{Stretches: []Stretch{{ID: 1, ToFt: 40}}}},
		{
			name: "nothing seen, no date", reason: NothingSeen,
			record: Record{Stretches: []Stretch{{ID: 1, ToFt: 40}}, Looks: []Look{look(t, "2025-01-01", 0, 0, 0, 0)}},
		},
		{
			name: "new seal after the inspection", since: "2025-06-01", shares: asNew, basis: "inspected 2025-01-01, sealed 2025-06-01",
			record: Record{Stretches: []Stretch{strip(t, "2025-06-01")}, Looks: []Look{look(t, "2025-01-01", 0, 0, 0, 40)}},
		},
		{
			name: "work that put in a new seal", since: "2025-06-01", shares: asNew, basis: "inspected 2025-01-01, sealed 2025-06-01",
			record: Record{
				Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2025-01-01", 0, 0, 0, 40)},
				Work: []Work{{On: day(t, "2025-06-01"), Treatment: "reseal", NewSeal: true}},
			},
		},
		{
			name: "a plate improves nothing", since: "2025-01-01", shares: [4]float64{0, 0, 0, 1}, basis: "inspected 2025-01-01",
			record: Record{
				Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2025-01-01", 0, 0, 0, 40)},
				Work: []Work{{On: day(t, "2025-06-01"), Treatment: inventory.TemporaryPlate, ToFt: 40, NewSeal: true}},
			},
		},
		{
			name: "work before the inspection is in it", since: "2025-07-01", shares: [4]float64{0, 1, 0, 0}, basis: "inspected 2025-07-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2025-07-01", 0, 40, 0, 0)}, Work: []Work{spot}},
		},
		{
			// all 40 ft in CS4, which is absorbing: of 40, the 10 repaired are new
			name: "a repair resets its feet", since: "2025-06-01", shares: [4]float64{0.25, 0, 0, 0.75}, basis: "inspected 2025-01-01, repaired 2025-06-01",
			record: Record{Stretches: []Stretch{strip(t, "2010-06-01")}, Looks: []Look{look(t, "2025-01-01", 0, 0, 0, 40)}, Work: []Work{spot}},
		},
		{
			// one of two equal stretches is resealed, the other is all in CS4
			name: "one stretch resealed", since: "2025-06-01", shares: [4]float64{0.5, 0, 0, 0.5}, basis: "inspected 2025-01-01, sealed 2025-06-01",
			record: Record{
				Stretches: []Stretch{strip(t, "2025-06-01"), half},
				Looks:     []Look{{On: day(t, "2025-01-01"), Feet: []StretchFeet{{1, [4]float64{0, 0, 0, 40}}, {2, [4]float64{0, 0, 0, 40}}}}},
			},
		},
		{
			name: "shares of the quantity it was split from", since: "2025-01-01", shares: [4]float64{0, 0, 0.5, 0.5},
			basis: "submitted with the element data dated 2025-01-01, as part of the bridge's quantity",
			record: Record{
				Stretches: []Stretch{{ID: 9, ToFt: 40}},
				Looks:     []Look{{On: day(t, "2025-01-01"), Latest: true, OfParent: true, Feet: []StretchFeet{{1, [4]float64{0, 0, 80, 80}}}}},
			},
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			m := testModel(t, testTables())
			test.record.LengthFt = 40
			asOf := day(t, "2025-08-01")
			f, reason := m.Project(&test.record, asOf, 2026)
			if reason != test.reason {
				t.Fatalf("reason: got %q, want %q", reason, test.reason)
			}
			if reason != "" {
				return
			}
			p := &projector{Model: m}
			got, _ := p.start(&test.record, asOf, m.pace.Prior)
			for s := range got.shares {
				if math.Abs(got.shares[s]-test.shares[s]) > 1e-6 {
					t.Errorf("shares: got %.4f, want %v", got.shares, test.shares)
					break
				}
			}
			if f.Since != day(t, test.since) {
				t.Errorf("since: got %v, want %s", f.Since, test.since)
			}
			if words, _, _ := strings.Cut(f.Basis, ";"); words != test.basis {
				t.Errorf("basis: got %q, want %q", words, test.basis)
			}
		})
	}
}

// A joint that wore faster than its kind between its inspections wears faster
// from then on; a slow one slower; an improvement without work tells nothing.
func TestPace(t *testing.T) {
	tables := testTables()
	tables.Settings.PaceK, tables.Settings.Pieces = 4, 3
	m := testModel(t, tables)
	pace := func(installed string, looks ...Look) float64 {
		r := &Record{LengthFt: 40, Stretches: []Stretch{strip(t, installed)}, Looks: looks}
		f, reason := m.Project(r, day(t, "2026-01-01"), 2027)
		if reason != "" {
			t.Fatal(reason)
		}
		return f.Pace
	}
	fast := pace("2018-01-01", look(t, "2020-01-01", 0, 20, 20, 0), look(t, "2022-01-01", 0, 0, 20, 20))
	slow := pace("2000-01-01", look(t, "2010-01-01", 40, 0, 0, 0), look(t, "2020-01-01", 38, 2, 0, 0))
	none := pace("2020-01-01")
	if !(fast > 1.3 && slow < 0.6) || math.Abs(none-1) > 1e-9 {
		t.Errorf("pace: fast %.2f, slow %.2f, without inspections %.2f; want over 1.3, under 0.6, 1", fast, slow, none)
	}
	// The worst possible start, then all good: only what follows counts.
	better := pace("2018-01-01", look(t, "2019-01-01", 0, 0, 0, 40), look(t, "2020-01-01", 40, 0, 0, 0))
	if math.Abs(better-1) > 1e-9 {
		t.Errorf("pace after an improvement without work: got %.3f, want 1", better)
	}
	// One foot better of 40 is how feet are counted, not an improvement.
	counted := pace("2018-01-01", look(t, "2020-01-01", 20, 20, 0, 0), look(t, "2022-01-01", 21, 19, 0, 0))
	if counted == 1 {
		t.Error("one foot in 40 ended the life")
	}
	// An element record without a day of its own estimates nothing.
	undated := look(t, "2020-01-01", 0, 0, 20, 20)
	undated.Observed = false
	if got := pace("2018-01-01", undated); math.Abs(got-1) > 1e-9 {
		t.Errorf("pace from an undated record: got %.3f, want 1", got)
	}
	// A new seal keeps half of its site's pace: weights 0.5 posterior + 0.5 prior.
	r := &Record{
		LengthFt: 40, Looks: []Look{look(t, "2020-01-01", 0, 20, 20, 0), look(t, "2022-01-01", 0, 0, 20, 20)},
		Stretches: []Stretch{{ID: 1, ToFt: 40, Seals: []Seal{
			{Kind: "strip seal", Installed: day(t, "2018-01-01"), Removed: day(t, "2024-01-01")},
			{Kind: "strip seal", Installed: day(t, "2024-01-01")},
		}}},
	}
	f, _ := m.Project(r, day(t, "2026-01-01"), 2027)
	if want := (fast + 1) / 2; math.Abs(f.Pace-want) > 1e-9 {
		t.Errorf("pace of the next seal: got %.4f, want %.4f", f.Pace, want)
	}
}

func TestTables(t *testing.T) {
	tables := testTables()
	for _, test := range []struct{ kind, want string }{{"strip seal", "new gland"}, {"Modular Joint", "new gland"}, {"foam seal", "reseal"}} {
		if got, err := tables.TreatmentFor(test.kind); err != nil || got.Name != test.want {
			t.Errorf("treatment for %s: got %q (%v), want %q", test.kind, got.Name, err, test.want)
		}
	}
	// 40 ft × 90 + 10.5 × 40 + 7, and with nothing known 40 ft × 60 + 7
	if got := tables.ConsequenceAYear(40, "heavy", 10500); got != 4027 {
		t.Errorf("consequence: got %v, want 4027", got)
	}
	if got := tables.ConsequenceAYear(40, "", 0); got != 2407 {
		t.Errorf("consequence with nothing known: got %v, want 2407", got)
	}
	if got := fmt.Sprint(tables.Illustrative()); got != "[life_table]" {
		t.Errorf("illustrative: got %v, want [life_table]", got)
	}
	tables.Lives = tables.Lives[:1]
	if _, err := NewModel(tables); err == nil {
		t.Error("a life table without a row for other seals was taken")
	}
}
