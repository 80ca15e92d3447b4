package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"reseal/forecast/money"
	"reseal/inventory"
)

// twoJoints are two joints of one bridge, both all in one state when inspected on
// 2026-01-01, 40 and 60 ft long.
func twoJoints(t testing.TB, state int) []Projected {
	m := testModel(t, testTables())
	asOf := day(t, "2026-01-01")
	var out []Projected
	for i, ft := range []float64{40, 60} {
		l := look(t, "2026-01-01", 0, 0, 0, 0)
		l.Feet[0].StateFt[state-1] = ft
		r := &Record{
			ID: int64(i + 1), Tag: fmt.Sprintf("J%06d", i+1), LengthFt: ft, Lanes: 2, Bridge: Site{ID: 1, Deicing: "heavy", VehiclesADay: 10500},
			Stretches: []Stretch{{ID: 1, ToFt: ft, Seals: []Seal{{Kind: "foam seal", Installed: day(t, "2020-06-01")}}}},
			Looks:     []Look{l},
		}
		j := Projected{Record: r}
		j.Forecast, j.Reason = m.Project(r, asOf, 2026)
		out = append(out, j)
	}
	return out
}

// addBridge works out the strategies first, as a page of joints does.
func addBridge(m *Model, w *WorkList, joints []Projected, asOf inventory.Date) error {
	if err := (&projector{Model: m}).prospects(joints, m.listing(w.Year)); err != nil {
		return err
	}
	return m.addBridge(w, joints, asOf)
}

// leastAfter is what follows a renewal in the middle of the first year, seen
// from there: all of its cost but the harm before it and its price.
func leastAfter(p *Prospect) float64 {
	d, _ := p.outright(p.usual, 0)
	before := p.Consequence * (1 - math.Pow(1.02, -0.5)) / math.Log(1.02) // failed throughout
	return (d-before)*math.Sqrt(1.02) - p.OwnDollars[p.usual] - p.VisitShare*5000
}

// Worked by hand. Unit costs of 2026: 100 a foot, 1,000 a joint and 5,000 a
// visit. The two joints share the visit 40:60, so that they cost
//
//	100 × 40 + 1000 + 2000 = 7,000
//	100 × 60 + 1000 + 3000 = 10,000
//
// A failed seal costs 40 × 90 + 10.5 × 40 + 7 = 4,027 and 60 × 90 + 427 = 5,827
// a year, and both have failed: the simple ratios are 0.5753 and 0.5827. At 2 %
// a year waiting costs the harm of the year from the middle of 2026, which is
// (v^0.5 − v^1.5)/ln 1.02 = 0.98049 years' worth, less the interest on all that
// the renewal begins: (v^0.5 − v^1.5) = 0.019416 times K. K comes from the
// curves of the chain; its own tests are those of package strategy.
func TestWorkListByHand(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)
	for _, test := range []struct {
		name       string
		budget     int64
		line       int
		order      [2]int // of the joints
		costs, sum []int64
	}{
		{"no budget", 0, 2, [2]int{1, 0}, []int64{10_000_00, 7_000_00}, []int64{12_000_00, 17_000_00}},
		{"for both, to the cent", 17_000_00, 2, [2]int{1, 0}, []int64{10_000_00, 7_000_00}, []int64{12_000_00, 17_000_00}},
		// The first pays the whole visit, 6000 + 1000 + 5000; the other's cost
		// stays that of a shared visit.
		{"a cent short", 16_999_99, 1, [2]int{1, 0}, []int64{12_000_00, 7_000_00}, []int64{12_000_00, 17_000_00}},
		// 12,000 is too much for the first; the other fits, with the whole visit.
		{"for the second", 11_000_00, 1, [2]int{0, 1}, []int64{10_000_00, 10_000_00}, []int64{10_000_00, 17_000_00}},
		{"for none", 9_999_99, 0, [2]int{1, 0}, []int64{10_000_00, 7_000_00}, []int64{12_000_00, 17_000_00}},
	} {
		t.Run(test.name, func(t *testing.T) {
			w := &WorkList{Year: 2026, PriceYear: 2026, BudgetCents: test.budget, NoForecast: map[Reason]int{}}
			if err := addBridge(m, w, joints, day(t, "2026-01-01")); err != nil {
				t.Fatal(err)
			}
			if err := w.rank(); err != nil {
				t.Fatal(err)
			}
			if w.Line != test.line {
				t.Errorf("line: got %d, want %d", w.Line, test.line)
			}
			const f = 1.0
			for i, j := range test.order {
				p := joints[j].Prospect
				k := p.OwnDollars[0] + p.VisitShare*5000 + leastAfter(p)
				want := 0.98049*p.Consequence - 0.019416*k
				if got := w.Ranked[i].WaitDollars; got < want-2 || got > want+2 {
					t.Errorf("rank %d: waiting costs %.0f, want %.0f", i+1, got, want)
				}
			}
			for i, j := range test.order {
				got, want := w.Ranked[i], []float64{f * 4027 / 7000, f * 5827 / 10000}[j]
				if diff := got.AvoidedPerDollar - want; diff > 1e-12 || diff < -1e-12 {
					t.Errorf("rank %d: avoided per dollar: got %v, want %v", i+1, got.AvoidedPerDollar, want)
				}
				if got.CostCents != test.costs[i] || got.CumulativeCents != test.sum[i] || got.Rank != 2-j {
					t.Errorf("rank %d: got #%d, %d, sum %d; want %d, sum %d", i+1, got.Rank, got.CostCents, got.CumulativeCents, test.costs[i], test.sum[i])
				}
			}
		})
	}
}

// Prices rise by 3 % to the list's year; the ranking stays in today's dollars.
func TestWorkListNominal(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)[:1]
	w := &WorkList{Year: 2028, PriceYear: 2026, NoForecast: map[Reason]int{}}
	joints[0].Forecast, _ = m.Project(joints[0].Record, day(t, "2026-01-01"), 2028)
	if err := addBridge(m, w, joints, day(t, "2026-01-01")); err != nil {
		t.Fatal(err)
	}
	if err := w.rank(); err != nil {
		t.Fatal(err)
	}
	// 106.09 × 40 + 1060.90 + 5304.50
	if got := w.Ranked[0].CostCents; got != 10_609_00 {
		t.Errorf("cost in 2028: got %d, want 1060900", got)
	}
	if got, want := w.Ranked[0].AvoidedPerDollar, w.Ranked[0].FailedProbability*4027/10000; got != want {
		t.Errorf("avoided per dollar: got %v, want %v", got, want)
	}
}

func TestUrgentStandsApart(t *testing.T) {
	m := testModel(t, testTables())
	asOf := day(t, "2026-01-01")
	joints := twoJoints(t, 4)
	joints[0].Findings = []Finding{{Kind: inventory.PlatePlaced, FoundOn: day(t, "2025-12-02"), Urgency: "soon"}}
	joints[1].Findings = []Finding{{Kind: "loose steel", FoundOn: day(t, "2025-12-31"), Urgency: "severe"}}
	joints[1].Forecast, joints[1].Reason = nil, NeverInspected
	joints[0].Projects = []inventory.Project{{Kind: "deck replacement", Year: 2034}}
	joints[0].Stretches[0].Seals[0].WarrantyUntil = day(t, "2026-06-01")
	w := &WorkList{Year: 2026, PriceYear: 2026, NoForecast: map[Reason]int{}}
	if err := addBridge(m, w, joints, asOf); err != nil {
		t.Fatal(err)
	}
	if err := w.rank(); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, i := range w.Urgent {
		got = append(got, i.Tag+" "+i.Reason)
	}
	want := []string{"J000002 severe: loose steel, open 1 d since 2025-12-31", "J000001 plate placed, open 30 d since 2025-12-02"}
	if !slices.Equal(got, want) {
		t.Errorf("urgent: got %q, want %q", got, want)
	}
	if len(w.Ranked) != 1 || w.NoForecast[NeverInspected] != 1 {
		t.Fatalf("ranked %d, without forecast %v", len(w.Ranked), w.NoForecast)
	}
	const notes = "to be claimed under warranty now, until 2026-06-01; deck replacement committed for 2034; " +
		"has an open severe finding or plate, see the urgent part"
	if w.Ranked[0].Notes != notes {
		t.Errorf("notes: got %q, want %q", w.Ranked[0].Notes, notes)
	}
}

// A quantity for a whole bridge stands apart: it has no rank, takes no money and
// bears no part of the visit.
func TestWholeBridgeStandsApart(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)
	joints[1].Quantity = true
	w := &WorkList{Year: 2026, PriceYear: 2026, BudgetCents: 10_000_00, NoForecast: map[Reason]int{}}
	if err := addBridge(m, w, joints, day(t, "2026-01-01")); err != nil {
		t.Fatal(err)
	}
	if err := w.rank(); err != nil {
		t.Fatal(err)
	}
	if len(w.Whole) != 1 || w.Whole[0].Tag != "J000002" || w.Whole[0].Rank != 0 || w.Whole[0].Part != Whole {
		t.Errorf("whole bridges: %+v, want J000002 without a rank", w.Whole)
	}
	// 100 x 40 + 1000 + 5000
	if len(w.Ranked) != 1 || w.Line != 1 || w.SpentCents != 10_000_00 {
		t.Errorf("%d ranked, line at %d, %d spent; want 1, 1, 1000000", len(w.Ranked), w.Line, w.SpentCents)
	}
}

// The reason tells what was seen from what is projected, and no projection is
// certain.
func TestReasonSeenOrProjected(t *testing.T) {
	m := testModel(t, testTables())
	for _, test := range []struct {
		name  string
		state int
		want  string
	}{
		{"all in CS4", 4, "seen failed: 100 % of its length in CS4 when inspected 2026-01-01; "},
		{"all in CS3", 3, "projected failed: over 99 % likely by the end of 2060, from its state on 2026-01-01; "},
	} {
		j := twoJoints(t, test.state)[0]
		j.Forecast, _ = m.Project(j.Record, day(t, "2026-01-01"), 2060)
		if got := m.why(j, WorkItem{FailedProbability: j.FailedBy(2060)}, 2060); !strings.HasPrefix(got, test.want) {
			t.Errorf("%s: got %q, want %q", test.name, got, test.want)
		}
	}
}

// drawList draws a list of joints on few bridges, some with equal ranks.
func drawList(t *rapid.T) []WorkItem {
	tables := testTables()
	items := make([]WorkItem, rapid.IntRange(0, 30).Draw(t, "items"))
	for i := range items {
		costs, err := tables.costs(&tables.Treatments[rapid.IntRange(0, 1).Draw(t, "treatment")], 40, "", 2027)
		if err != nil {
			t.Fatal(err)
		}
		items[i] = WorkItem{
			Part: Ranked, Tag: fmt.Sprintf("J%06d", i), bridgeID: int64(rapid.IntRange(1, 8).Draw(t, "bridge")), costs: costs,
			LengthFt: rapid.Float64Range(10, 100).Draw(t, "ft"), WaitPerDollar: float64(rapid.IntRange(0, 9).Draw(t, "avoided")) / 10,
		}
	}
	return items
}

func ranked(t *rapid.T, items []WorkItem, budget int64) *WorkList {
	w := &WorkList{Year: 2027, PriceYear: 2027, BudgetCents: budget, Ranked: slices.Clone(items)}
	if err := w.rank(); err != nil {
		t.Fatal(err)
	}
	return w
}

func TestWorkListProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := drawList(t)
		budget := rapid.Int64Range(1, 400_000_00).Draw(t, "budget")
		w := ranked(t, items, budget)
		sum := int64(0)
		for i, item := range w.Ranked {
			if i < w.Line {
				sum += item.CostCents
			}
			if (item.Part == Ranked) != (i < w.Line) {
				t.Fatalf("rank %d with the line at %d is %q", i+1, w.Line, item.Part)
			}
			if i > 0 && i != w.Line && item.Rank <= w.Ranked[i-1].Rank {
				t.Fatalf("rank %d after %d", item.Rank, w.Ranked[i-1].Rank)
			}
			if i > 0 && item.CumulativeCents <= w.Ranked[i-1].CumulativeCents {
				t.Fatalf("the sum falls at rank %d", i+1)
			}
		}
		if sum != w.SpentCents || sum > budget {
			t.Fatalf("items above the line cost %d, spent %d of %d", sum, w.SpentCents, budget)
		}
		for _, out := range w.Ranked[w.Line:] {
			jobs := []money.Job{out.job()}
			already := int64(0)
			for _, in := range w.Ranked[:w.Line] {
				if in.bridgeID == out.bridgeID {
					jobs, already = append(jobs, in.job()), already+in.CostCents
				}
			}
			costs, err := price(jobs, w.Year)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range costs {
				already -= c
			}
			if w.SpentCents-already <= budget {
				t.Fatalf("%s fits and stands below the line", out.Tag)
			}
		}
		if passed := len(w.PassedOver()); passed > len(w.Ranked)-w.Line || w.Line == 0 && passed > 0 {
			t.Fatalf("%d passed over, %d below a line at %d", passed, len(w.Ranked)-w.Line, w.Line)
		}
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)).Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
		if got, want := fmt.Sprint(ranked(t, items, budget)), fmt.Sprint(w); got != want {
			t.Fatalf("another order of input:\ngot  %s\nwant %s", got, want)
		}
	})
}
