package forecast

import (
	"math"
	"testing"

	"reseal/inventory"
)

// prospectOf works out the strategies of one joint of foam seal, 40 ft, all in
// a state when inspected on 2026-01-01, from 2027 on.
func prospectOf(t *testing.T, tables *Tables, state int, change func(*Record)) *Prospect {
	t.Helper()
	m := testModel(t, tables)
	joints := twoJoints(t, state)[:1]
	change(joints[0].Record)
	joints[0].Forecast, _ = m.Project(joints[0].Record, day(t, "2026-01-01"), 2040)
	if err := (&projector{Model: m}).prospects(joints, &prospecting{firstYear: 2027, years: 15}); err != nil {
		t.Fatal(err)
	}
	return joints[0].Prospect
}

func unchanged(*Record) {}

// withRepair adds a repair of a quarter of the length at 300 a joint, and
// something that only people decide on.
func withRepair() *Tables {
	tables := testTables()
	tables.Treatments = append(tables.Treatments,
		Treatment{Name: "spot repair", FixedCents: 300_00, PriceYear: 2026, Effect: "repairs", RepairsShare: 0.25},
		Treatment{Name: "elimination", FixedCents: 90_000_00, PriceYear: 2026, Effect: "removes", OnlyDecided: true})
	return tables
}

// All feet are in CS4: a repair of a quarter leaves the seal failed, so that
// only renewal helps, and it is due at once. All in CS1: nothing is due.
func TestProspectByState(t *testing.T) {
	p := prospectOf(t, withRepair(), 4, unchanged)
	best, ok := p.Best()
	if !ok || p.Treatments[best.Treatment].Name != "reseal" || best.Year != 0 || !(best.Wait > 0) {
		t.Errorf("a failed seal: best %+v (%v), want reseal in the first year", best, ok)
	}
	if got := p.StopsPaying(p.usual); got != 2027 {
		t.Errorf("waiting stops paying in %d, want 2027", got)
	}
	if p.index("elimination") >= 0 {
		t.Error("elimination is proposed by itself")
	}
	p = prospectOf(t, withRepair(), 1, unchanged)
	if wait, _ := p.Wait(p.usual, 0); wait >= 0 {
		t.Errorf("a good seal: waiting costs %.0f, want it to pay", wait)
	}
}

// A deck replacement is committed for 2029: renewal before it serves less than
// two years, and none can come in that year or later.
func TestProspectBeforeAProject(t *testing.T) {
	p := prospectOf(t, testTables(), 4, func(r *Record) {
		r.Projects = []inventory.Project{{Kind: "deck replacement", Year: 2029}}
	})
	work, ok := p.BestIn(0)
	if !ok {
		t.Fatal("nothing can be done before the project")
	}
	// Two years failed cost about 2 x 4,027, the renewal 5,000 and its visit.
	if idle, _ := p.Value.Cost(p.projectOnly()...); (idle.Total() <= work.Dollars) != p.leftToProject(work) {
		t.Error("left to the project against its costs")
	}
	if _, ok := p.BestIn(2); ok {
		t.Error("something can be done in the project's year")
	}
	// A year late is one more of those years, discounted from 2029.5 to 2030.5.
	risks := addRisk(nil, &Projected{Record: &Record{Projects: []inventory.Project{{Kind: "deck replacement", Year: 2029}}}, Prospect: p})
	want := 4027 * math.Pow(1.02, -3)
	if r := risks[0]; r.Kind != "deck replacement" || r.Year != 2029 || r.Joints != 1 || math.Abs(r.LateDollars-want) > 0.02*want || math.Abs(r.UntilDollars-2.5*4027*math.Pow(1.02, -1.25)) > 0.02*r.UntilDollars {
		t.Errorf("got %+v, want about %.0f a year late", r, want)
	}
	other := prospectOf(t, testTables(), 4, func(r *Record) {
		r.Projects = []inventory.Project{{Kind: "other", Year: 2029}}
	})
	if other.project >= 0 {
		t.Error("a project of another kind renews the joint")
	}
}

// Every committed project renews the joint, as in the forecast: strategies come to
// the same chance of having failed at the end.
func TestProspectWithTwoProjects(t *testing.T) {
	projects := []inventory.Project{{Kind: "deck replacement", Year: 2029}, {Kind: "overlay", Year: 2029}, {Kind: "overlay", Year: 2034}}
	with := func(n int) (*Prospect, float64) {
		p := prospectOf(t, testTables(), 4, func(r *Record) { r.Projects = projects[:n] })
		failed, err := p.Value.FailedAt(p.terms.Years, p.projectOnly()...)
		if err != nil {
			t.Fatal(err)
		}
		return p, failed
	}
	one, failedOnce := with(2)
	two, failedTwice := with(3)
	if len(one.projectOnly()) != 1 || len(two.projectOnly()) != 2 || two.project != one.project {
		t.Fatalf("got %+v and %+v", one.projectOnly(), two.projectOnly())
	}
	if failedTwice >= failedOnce {
		t.Errorf("a second renewal leaves %g failed, one %g", failedTwice, failedOnce)
	}
	m := testModel(t, testTables())
	j := &twoJoints(t, 4)[0]
	j.Record.Projects = projects
	j.Forecast, _ = m.Project(j.Record, day(t, "2026-01-01"), 2041)
	then := (&projector{Model: m}).future(j, withProjects(nil, projects, 2027)).failed
	if want := then[len(then)-1]; math.Abs(failedTwice-want) > 0.1*want {
		t.Errorf("%g failed at the end, and in the forecast %g", failedTwice, want)
	}
}

// What people decide changes what is open and what it costs.
func TestProspectDecided(t *testing.T) {
	p := prospectOf(t, withRepair(), 4, func(r *Record) {
		r.Decided = []Decision{{What: FixTreatment, Treatment: "elimination", Reason: "link slab"}, {What: FixCost, CostCents: 50_000_00, PriceYear: 2026, Treatment: "elimination"}}
	})
	work, ok := p.BestIn(0)
	if !ok || p.Treatments[work.Treatment].Name != "elimination" {
		t.Fatalf("best %+v (%v), want the elimination that was decided", work, ok)
	}
	if got := p.OwnDollars[work.Treatment]; math.Abs(got-50_000) > 1e-9 {
		t.Errorf("it costs %.2f, want the 50,000 that was decided", got)
	}
	after, _ := p.Value.Cost()
	if gone, _ := p.outright(work.Treatment, 0); !(gone > 0) || math.IsInf(gone, 0) || after.Total() <= 0 {
		t.Errorf("elimination costs %v for ever", gone)
	}
}

// A list of treatments is for a joint by its kind and its open findings.
func TestOpensByFinding(t *testing.T) {
	tables := testTables()
	tables.Treatments = append(tables.Treatments, Treatment{Name: "header", ForFindings: "spalled header", FixedCents: 1, PriceYear: 2026})
	if p := prospectOf(t, tables, 4, unchanged); p.index("header") >= 0 {
		t.Error("open without the finding")
	}
	p := prospectOf(t, tables, 4, func(r *Record) { r.Findings = []Finding{{Kind: "spalled header", Urgency: "routine"}} })
	if p.index("header") < 0 {
		t.Error("not open with the finding")
	}
}

// What it takes to work out strategies, beside projecting the joint.
func BenchmarkProspect(b *testing.B) {
	tables := withRepair()
	tables.Settings = DefaultSettings()
	m := testModel(b, tables)
	joints := twoJoints(b, 2)
	for i := range joints {
		joints[i].Forecast, _ = m.Project(joints[i].Record, day(b, "2026-01-01"), 2046)
	}
	p := &projector{Model: m}
	b.ReportAllocs()
	for b.Loop() {
		if err := p.prospects(joints, &prospecting{firstYear: 2027, years: 20}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(2*b.N)/b.Elapsed().Seconds(), "joints/s")
}
