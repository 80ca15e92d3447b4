package forecast

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/inventory"
)

// Committed projects and a plan's work make one course of events, once a year.
func TestCommittedProjectsInAPlan(t *testing.T) {
	tables := testTables()
	tables.Treatments = append(tables.Treatments,
		Treatment{Name: "spot repair", FixedCents: 300_00, PriceYear: 2026, Effect: "repairs", RepairsShare: 0.25},
		Treatment{Name: "link slab", FixedCents: 9_000_00, PriceYear: 2026, Effect: "removes"})
	m := testModel(t, tables)
	asOf := day(t, "2026-01-01")
	deck := inventory.Project{Kind: "deck replacement", Year: 2029}
	project := func(planned map[int64][]PlannedWork, projects ...inventory.Project) *Forecast {
		r := *twoJoints(t, 3)[0].Record
		r.Projects = projects
		f, reason := (&projector{Model: m, planned: planned}).project(&r, asOf, 2036)
		if reason != "" {
			t.Fatal(reason)
		}
		return f
	}
	in := func(year int, treatment string) PlannedWork { return PlannedWork{Year: year, Treatment: treatment} }
	by := func(year int, kind string) PlannedWork {
		return PlannedWork{Year: year, Treatment: kind, Project: true}
	}
	for _, test := range []struct {
		name     string
		plan     []PlannedWork
		projects []inventory.Project
		want     []PlannedWork
		as       []PlannedWork // the plan alone that comes to the same
	}{
		{"the project alone", nil, []inventory.Project{deck}, []PlannedWork{by(2029, "deck replacement")}, []PlannedWork{in(2029, "reseal")}},
		{
			"in the order of years",
			[]PlannedWork{in(2027, "spot repair"), in(2033, "reseal")},
			[]inventory.Project{deck},
			[]PlannedWork{in(2027, "spot repair"), by(2029, "deck replacement"), in(2033, "reseal")},
			[]PlannedWork{in(2027, "spot repair"), in(2029, "reseal"), in(2033, "reseal")},
		},
		{"both in one year", []PlannedWork{in(2029, "reseal")}, []inventory.Project{deck}, []PlannedWork{in(2029, "reseal")}, []PlannedWork{in(2029, "reseal")}},
		{"a repair in the project's year", []PlannedWork{in(2029, "spot repair")}, []inventory.Project{deck}, []PlannedWork{by(2029, "deck replacement")}, []PlannedWork{in(2029, "reseal")}},
		{"eliminated in the project's year", []PlannedWork{in(2029, "link slab")}, []inventory.Project{deck}, []PlannedWork{in(2029, "link slab")}, []PlannedWork{in(2029, "link slab")}},
		{
			"two projects", nil,
			[]inventory.Project{deck, {Kind: "overlay", Year: 2029}, {Kind: "overlay", Year: 2034}},
			[]PlannedWork{by(2029, "deck replacement"), by(2034, "overlay")},
			[]PlannedWork{in(2029, "reseal"), in(2034, "reseal")},
		},
		{"no seal goes in, or it is past", nil, []inventory.Project{{Kind: "other", Year: 2029}, {Kind: "overlay", Year: 2025}}, nil, nil},
	} {
		t.Run(test.name, func(t *testing.T) {
			f := project(map[int64][]PlannedWork{1: test.plan}, test.projects...)
			if diff := cmp.Diff(test.want, f.Planned()); diff != "" {
				t.Errorf("want (-), got (+):\n%s", diff)
			}
			if as := project(map[int64][]PlannedWork{1: test.as}); !slices.Equal(f.Failed, as.Failed) || !slices.Equal(f.Shares, as.Shares) {
				t.Errorf("%v failed, want %v", f.Failed, as.Failed)
			}
		})
	}
	if f := project(nil, deck); len(f.Planned()) != 0 || !slices.Equal(f.Failed, project(nil).Failed) {
		t.Error("a forecast of nature alone counts a project")
	}
	renewed, alone := project(map[int64][]PlannedWork{}, deck), project(nil)
	if renewed.Failed[2] != alone.Failed[2] || !(renewed.Failed[3] < alone.Failed[3]/2) {
		t.Errorf("renewed in 2029: %v, nothing done %v", renewed.Failed, alone.Failed)
	}
}
