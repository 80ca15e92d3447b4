package forecast_test

import (
	"context"
	"math"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/inventory/store"
)

// What each joint's plan costs is the least of its choices, its own visits counted,
// but for those that a limit bars and those that the average price alone makes
// cheaper; with no limit of money it is the least outright. The visits of the plan's
// own choices on a bridge of one joint are what the plan spends beside the jobs.
func TestExplainCountsVisits(t *testing.T) {
	s := invented(t, 6)
	alone, shared := 0, 0
	for _, yearly := range []int64{9_000_00, 10_000_000_00} {
		p, solved := planOf(t, s, yearly)
		looked := map[string]bool{}
		for _, item := range solved.Items {
			if looked[item.Tag] {
				continue
			}
			looked[item.Tag] = true
			choices, err := p.Explain(solved, item.Tag, math.MaxInt)
			if err != nil {
				t.Fatal(err)
			}
			var own forecast.Choice
			for _, c := range choices {
				if c.Chosen {
					own = c
				}
			}
			if own.Short != "" {
				t.Errorf("%s: the plan's own choice exceeds a limit: %s", item.Tag, own.Short)
			}
			if len(own.SharedWith) > 0 {
				shared++
			} else if alone++; own.VisitCents <= 0 {
				t.Errorf("%s: alone on its bridge, and no visit", item.Tag)
			}
			for _, c := range choices {
				if c.Short == "" && c.CostDollars < own.CostDollars-1e-6 {
					t.Errorf("with %d: %s: %v %v costs %.2f, the plan's own %.2f, and no limit bars it", yearly, item.Tag, c.Words, c.Years, c.CostDollars, own.CostDollars)
				}
			}
		}
	}
	if alone == 0 || shared == 0 {
		t.Errorf("%d joints alone and %d shared: nothing tested", alone, shared)
	}
}

// A joint's decisions are told with who decided them, when and why.
func TestExplainTellsDecisions(t *testing.T) {
	s := invented(t, 3)
	_, free := planOf(t, s, 200_000_00)
	at := free.Items[0]
	if err := s.Update(t.Context(), "planner", func(ctx context.Context, tx *store.Tx) error {
		return forecast.Decide(ctx, tx, &forecast.Decision{JointID: at.JointID, What: forecast.Exclude, Reason: "bridge to be sold"}, asOf)
	}); err != nil {
		t.Fatal(err)
	}
	p := problemOf(t, s, forecast.PlanOptions{YearlyCents: 200_000_00})
	lines, err := p.About(at.Tag)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(lines, "\n"); !strings.Contains(got, "left out, decided by planner on 20") || !strings.Contains(got, ": bridge to be sold") {
		t.Errorf("got %q", got)
	}
}
