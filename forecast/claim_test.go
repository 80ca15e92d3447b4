package forecast

import (
	"testing"

	"reseal/inventory"
)

// A fault counts from the installation to the last day of the warranty.
func TestClaimByDay(t *testing.T) {
	asOf := day(t, "2026-06-01")
	for _, test := range []struct {
		name, installed, until, seen string
		ft                           [4]float64
		finding                      Finding
		want                         string // fault; blank: no claim
		late, urgent                 bool
	}{
		{name: "good seal", installed: "2025-01-01", until: "2027-01-01", seen: "2026-01-01", ft: [4]float64{40, 0, 0, 0}},
		{name: "poor feet", installed: "2025-01-01", until: "2027-01-01", seen: "2026-01-01", ft: [4]float64{20, 0, 20, 0}, want: "50 % of its length poor and 0 % severe on 2026-01-01"},
		{name: "seen on its last day", installed: "2025-01-01", until: "2026-01-01", seen: "2026-01-01", ft: [4]float64{20, 0, 0, 20}, want: "0 % of its length poor and 50 % severe on 2026-01-01", late: true},
		{name: "seen a day later", installed: "2024-01-01", until: "2025-12-31", seen: "2026-01-01", ft: [4]float64{20, 0, 0, 20}},
		{name: "fault of the seal before", installed: "2026-02-01", until: "2028-02-01", seen: "2026-01-01", ft: [4]float64{0, 0, 0, 40}},
		{name: "no warranty", installed: "2025-01-01", seen: "2026-01-01", ft: [4]float64{0, 0, 0, 40}},
		{
			name: "leak", installed: "2025-01-01", until: "2027-01-01", seen: "2026-01-01", ft: [4]float64{40, 0, 0, 0},
			finding: Finding{Kind: "leak", FoundOn: day(t, "2026-03-01"), Urgency: "soon"}, want: "leak since 2026-03-01",
		},
		{
			name: "plough strike", installed: "2025-01-01", until: "2027-01-01", seen: "2026-01-01", ft: [4]float64{40, 0, 0, 0},
			finding: Finding{Kind: "plough strike", FoundOn: day(t, "2026-03-01")},
		},
		{
			name: "severe leak", installed: "2025-01-01", until: "2027-01-01", seen: "2026-01-01", ft: [4]float64{40, 0, 0, 0},
			finding: Finding{Kind: "leak", FoundOn: day(t, "2026-03-01"), Urgency: severe}, want: "leak since 2026-03-01", urgent: true,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			s := strip(t, test.installed)
			if test.until != "" {
				s.Seals[0].WarrantyUntil = day(t, test.until)
			}
			r := &Record{Tag: "J1", LengthFt: 40, Stretches: []Stretch{s}, Looks: []Look{look(t, test.seen, test.ft[:]...)}}
			if test.finding.Kind != "" {
				r.Findings = []Finding{test.finding}
			}
			c := r.claim(asOf)
			if (c != nil) != (test.want != "") {
				t.Fatalf("got %+v, want %q", c, test.want)
			}
			if c == nil {
				return
			}
			if c.Fault != test.want || c.Urgent != test.urgent || (c.DaysLeft < 0) != test.late {
				t.Errorf("got %q, urgent %v, %d days left; want %q, %v, late %v", c.Fault, c.Urgent, c.DaysLeft, test.want, test.urgent, test.late)
			}
			if got, want := r.claimed(asOf), !test.late && !test.urgent; got != want {
				t.Errorf("left to the claim: got %v, want %v", got, want)
			}
		})
	}
}

// A claim is neither on the list nor in the budget's first year; the next seal's
// end is.
func TestClaimCostsTheAgencyNothing(t *testing.T) {
	m := testModel(t, testTables())
	joints := twoJoints(t, 4)
	joints[0].Stretches[0].Seals[0].WarrantyUntil = day(t, "2026-08-01")
	w := &WorkList{Year: 2026, PriceYear: 2026, NoForecast: map[Reason]int{}}
	if err := addBridge(m, w, joints, joints[0].AsOf); err != nil {
		t.Fatal(err)
	}
	if w.ByWarranty != 1 || len(w.Ranked) != 1 || w.Ranked[0].Tag != "J000002" {
		t.Errorf("left to a claim %d, ranked %+v", w.ByWarranty, w.Ranked)
	}
	run := &renewalRun{Model: m, years: 3}
	j := joints[0]
	j.Forecast, _ = m.Project(j.Record, j.AsOf, 2028)
	whole := run.renewals(j.Forecast)
	left := append([]float64(nil), whole...)
	if got := run.claims(j, left); got != whole[0] || left[0] != 0 || left[1] != whole[1] {
		t.Errorf("left to claims %v of %v, rest %v", got, whole, left)
	}
	j.Findings = []Finding{{Kind: inventory.PlatePlaced, FoundOn: day(t, "2026-01-01")}}
	if got := run.claims(j, whole); got != 0 || whole[0] == 0 {
		t.Errorf("urgent work is left to a claim: %v of %v", got, whole)
	}
}

// Report, claim and work list count the same: claims in time, the urgent among them,
// and late ones. A good seal inside its warranty is not to be claimed.
func TestClaimWords(t *testing.T) {
	n := CountClaims([]Claim{{DaysLeft: 4}, {DaysLeft: 0, Urgent: true}, {DaysLeft: -1}, {DaysLeft: -9, Urgent: true}})
	if want := (ClaimCount{Now: 2, Urgent: 1, Late: 2}); n != want {
		t.Errorf("got %+v, want %+v", n, want)
	}
	const want = "2 joints to be claimed under warranty now (1 of them urgent: the agency acts, and claims the cost); " +
		"2 joints too late to claim, the warranty having ended: at the agency's cost"
	if got := n.Words(); got != want {
		t.Errorf("got %q", got)
	}
	m := testModel(t, testTables())
	j := twoJoints(t, 4)[0]
	j.Looks[len(j.Looks)-1] = look(t, j.latestLook().On.String(), 40, 0, 0, 0)
	for until, want := range map[string]string{
		"2027-02-01": "under warranty until 2027-02-01: claim it if it fails before then",
		"2025-02-01": "",
	} {
		j.Stretches[0].Seals[0].WarrantyUntil = day(t, until)
		if got := m.warrantyNote(j, 2026); got != want {
			t.Errorf("until %s: got %q, want %q", until, got, want)
		}
	}
}
