package forecast

import "testing"

func TestPlanReason(t *testing.T) {
	worn := &Forecast{Years: []int{2026, 2027, 2028}, Worn: []float64{0.1, 0.2, 0.9}, OutOfRange: []float64{0.3, 0.4, 0.5}}
	leads := openingLeads(worn)
	reseal, repair := &Treatment{Name: "reseal"}, &Treatment{Name: "spot repair", Effect: "repairs"}
	for _, test := range []struct {
		name      string
		reason    planReason
		treatment *Treatment
		year      int
		again     bool
		why       string
		fresh     bool
	}{
		{"the opening leads", planReason{2026, leads, 0, 2024}, reseal, 2027, false, WhyOpening, true},
		{"wear leads", planReason{2026, leads, 0, 2024}, reseal, 2028, false, WhyWear, false},
		{"past the forecast its last year counts", planReason{2026, leads, 0, 0}, reseal, 2040, false, WhyWear, false},
		{"no gap readings", planReason{2026, openingLeads(&Forecast{Years: worn.Years}), 0, 2026}, reseal, 2027, false, WhyWear, true},
		{"a repair renews nothing", planReason{2026, leads, 0, 2026}, repair, 2027, false, WhyOpening, false},
		{"pinned", planReason{2026, leads, 2027, 2010}, reseal, 2027, false, WhyPinned, false},
		{"pinned to another year", planReason{2026, leads, 2028, 2010}, reseal, 2027, false, WhyOpening, false},
		{"the seal of this plan", planReason{2026, leads, 0, 2026}, reseal, 2028, true, WhyAgain, false},
	} {
		if got := test.reason.why(test.year, test.again); got != test.why {
			t.Errorf("%s: got %q, want %q", test.name, got, test.why)
		}
		if got := test.reason.fresh(test.treatment, test.year, test.again); got != test.fresh {
			t.Errorf("%s: nearly new: got %v, want %v", test.name, got, test.fresh)
		}
	}
}
