package forecast_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/forecast"
)

func TestComparePlans(t *testing.T) {
	item := func(joint int64, tag, district, treatment string, year int, cents int64) forecast.PlanItem {
		return forecast.PlanItem{
			PlanJoint: &forecast.PlanJoint{JointID: joint, Tag: tag, StructureNumber: "B1", District: district},
			JobKind:   &forecast.JobKind{Treatment: treatment}, Year: year, CostCents: cents,
		}
	}
	a := &forecast.Plan{
		Items: []forecast.PlanItem{item(1, "J1", "2", "reseal", 2027, 100), item(2, "J2", "2", "spot repair", 2027, 50), item(2, "J2", "2", "reseal", 2030, 100)},
		Years: []forecast.PlanYear{{Budget: "network", Year: 2027, SpentCents: 200}, {Budget: "2", Year: 2027, SpentCents: 200, Part: true}, {Budget: "network", Year: 2030, SpentCents: 130}},
	}
	b := &forecast.Plan{
		Items: []forecast.PlanItem{item(1, "J1", "2", "reseal", 2027, 100), item(2, "J2", "2", "spot repair", 2027, 50), item(3, "J3", "4", "reseal", 2030, 70)},
		Years: []forecast.PlanYear{{Budget: "network", Year: 2027, SpentCents: 200}, {Budget: "network", Year: 2030, SpentCents: 90}},
	}
	wantMoves := []forecast.Move{
		{Tag: "J2", StructureNumber: "B1", District: "2", Does: []string{"2027 spot repair, 2030 reseal", "2027 spot repair", "2027 spot repair, 2030 reseal"}},
		{Tag: "J3", StructureNumber: "B1", District: "4", Does: []string{"", "2030 reseal", ""}},
	}
	if diff := cmp.Diff(wantMoves, forecast.Moves(a, b, a)); diff != "" {
		t.Errorf("moves, want (-), got (+):\n%s", diff)
	}
	wantYears := []forecast.PlanPart{{Name: "2027", Jobs: []int{2, 2}, Cents: []int64{200, 200}}, {Name: "2030", Jobs: []int{1, 1}, Cents: []int64{130, 90}}}
	if diff := cmp.Diff(wantYears, forecast.PlansByYear(a, b)); diff != "" {
		t.Errorf("years, want (-), got (+):\n%s", diff)
	}
	wantDistricts := []forecast.PlanPart{{Name: "2", Jobs: []int{3, 2}, Cents: []int64{250, 150}}, {Name: "4", Jobs: []int{0, 1}, Cents: []int64{0, 70}}}
	if diff := cmp.Diff(wantDistricts, forecast.PlansByDistrict(a, b)); diff != "" {
		t.Errorf("districts, want (-), got (+):\n%s", diff)
	}
}
