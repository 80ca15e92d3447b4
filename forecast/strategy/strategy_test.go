package strategy

import (
	"errors"
	"math"
	"slices"
	"testing"
)

// flat is a seal whose probability of having failed does not change.
func flat(p float64) Curve { return slices.Repeat(Curve{p}, Points) }

// wearing is a seal of two states that fails at a rate a year: 1 − exp(−λt).
func wearing(rate float64) Curve {
	c := make(Curve, Points)
	for i, t := range Times() {
		c[i] = -math.Expm1(-rate * t)
	}
	return c
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: got %.4f, want %.4f within %g", what, got, want, within)
	}
}

func mustValue(t *testing.T, j Joint, terms Terms) *Value {
	t.Helper()
	v, err := NewValue(&j, terms)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func mustCost(t *testing.T, v *Value, actions ...Action) Costs {
	t.Helper()
	c, err := v.Cost(actions...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A seal that has failed, and new ones that never do. With r = 5 %, v = 1/1.05
// and δ = ln 1.05 = 0.0487902, a new seal is renewed as late as can be, at 60
// years: K = 15,000 / (1 − v^60) = 15,848.46. Renewed in the middle of year 0
// the joint costs
//
//	harm        2,000 (1 − v^0.5) / δ                     =    987.90
//	treatment   15,000 v^0.5                              = 14,638.50
//	after       (15,848.46 − 15,000) v^0.5                =    828.01
//
// and waiting from then for a year costs 2,000 (v^0.5 − v^1.5)/δ = 1,904.94 of
// harm less the interest (v^0.5 − v^1.5) 15,848.46 = 736.49: 1,168.45.
func TestFailedSealByHand(t *testing.T) {
	v := mustValue(t, Joint{
		Now: flat(1), ConsequenceDollars: 2000,
		Treatments: []Treatment{{Name: "reseal", CostDollars: 15000, Effect: Renews, Site: flat(0), Group: flat(0)}},
	}, Terms{Years: 10, Rate: 0.05, SiteShare: 0.5})
	near(t, "for ever", v.Forever().Dollars, 15848.46, 0.01)
	near(t, "age", v.Forever().AgeYears, 60, 0)
	c := mustCost(t, v, Action{0, 0})
	near(t, "harm", c.Failed, 987.90, 0.01)
	near(t, "treatment", c.Treatments, 14638.50, 0.01)
	near(t, "after", c.After, 828.01, 0.01)
	wait, ok := v.Wait(0, 0)
	near(t, "waiting", wait, 1168.45, 0.01)
	best := v.Best()
	if !ok || best.Beyond || best.Action != (Action{0, 0}) || best.StopsYear != 0 {
		t.Errorf("best: got %+v, want year 0 at once", best)
	}
	near(t, "best", best.Dollars, c.Total(), 1e-6)
}

// Two states: every seal fails at 0.1 a year, a year failed costs 9,000, a new
// seal 20,000, money 5 %. The harm of a seal up to age a is 9,000 A(a) with
//
//	A(a) = (1 − e^−δa)/δ − (1 − e^−(0.1+δ)a)/(0.1 + δ)
//
// Renewal for ever at age τ costs (20,000 + 9,000 A(τ))/(1 − v^τ): least at τ =
// 10 years, 114,979. What each strategy costs over 10 years follows from A.
func TestTwoStatesByHand(t *testing.T) {
	const rate, consequence, cost = 0.1, 9000.0, 20000.0
	delta := math.Log(1.05)
	disc := func(years float64) float64 { return math.Exp(-delta * years) }
	harm := func(a float64) float64 {
		return consequence * ((1-disc(a))/delta - (1-math.Exp(-(rate+delta)*a))/(rate+delta))
	}
	forever, age := math.Inf(1), 0.0
	for tau := 1.0; tau <= 60; tau++ {
		if d := (cost + harm(tau)) / (1 - disc(tau)); d < forever {
			forever, age = d, tau
		}
	}
	least := func(from float64) float64 { // of a seal that is to be renewed past an age
		d := math.Inf(1)
		for a := from; a <= 60; a += 0.5 {
			d = min(d, harm(a)+disc(a)*forever)
		}
		return d
	}

	v := mustValue(t, Joint{
		Now: wearing(rate), ConsequenceDollars: consequence,
		Treatments: []Treatment{{Name: "reseal", CostDollars: cost, Effect: Renews, Site: wearing(rate), Group: wearing(rate)}},
	}, Terms{Years: 10, Rate: 0.05, SiteShare: 0.5})
	near(t, "for ever", v.Forever().Dollars, forever, 0.5)
	near(t, "for ever, as printed above", v.Forever().Dollars, 114979, 1)
	near(t, "age", v.Forever().AgeYears, age, 0)
	for _, c := range []struct {
		name    string
		actions []Action
		want    Costs
	}{
		{"nothing", nil, Costs{0, harm(10), least(10) - harm(10)}},
		{"renew in the middle of year 2", []Action{{0, 2}}, Costs{
			disc(2.5) * cost, harm(2.5) + disc(2.5)*harm(7.5), disc(2.5) * (least(7.5) - harm(7.5)),
		}},
		{"renew in years 2 and 8", []Action{{0, 2}, {0, 8}}, Costs{
			(disc(2.5) + disc(8.5)) * cost, harm(2.5) + disc(2.5)*harm(6) + disc(8.5)*harm(1.5), disc(8.5) * (least(1.5) - harm(1.5)),
		}},
	} {
		got := mustCost(t, v, c.actions...)
		near(t, c.name+", treatments", got.Treatments, c.want.Treatments, 0.5)
		near(t, c.name+", failed", got.Failed, c.want.Failed, 0.5)
		near(t, c.name+", after", got.After, c.want.After, 0.5)
	}
	// Waiting from year y: the harm of one more year, less what one year's delay
	// of all that follows saves.
	for y := range 10 {
		got, _ := v.Wait(0, y)
		want := harm(float64(y)+1.5) - harm(float64(y)+0.5) - (disc(float64(y)+0.5)-disc(float64(y)+1.5))*(cost+least(0))
		near(t, "waiting", got, want, 0.5)
	}
}

// A bridge joint that is taken away has no more cost; one that is cleaned costs
// that and nothing else changes; a repair makes the seal as good as its life
// after it.
func TestOtherEffects(t *testing.T) {
	j := Joint{
		Now: wearing(0.3), ConsequenceDollars: 5000,
		Treatments: []Treatment{
			{Name: "reseal", CostDollars: 20000, Effect: Renews, Site: wearing(0.1), Group: wearing(0.1)},
			{Name: "clean and flush", CostDollars: 500, Effect: Nothing},
			{Name: "spot repair", CostDollars: 4000, Effect: Repairs, After: []Curve{wearing(0.2), wearing(0.2), wearing(0.2)}},
			{Name: "elimination", CostDollars: 90000, Effect: Removes},
		},
	}
	v := mustValue(t, j, Terms{Years: 8, Rate: 0.03, SiteShare: 0.5})
	nothing := mustCost(t, v)
	cleaned := mustCost(t, v, Action{1, 0})
	near(t, "cleaning", cleaned.Total()-nothing.Total(), 500*math.Pow(1.03, -0.5), 1e-6)
	gone := mustCost(t, v, Action{3, 0}, Action{0, 5})
	near(t, "after elimination", gone.After, 0, 0)
	near(t, "harm until elimination", gone.Failed, mustCost(t, v, Action{3, 0}).Failed, 1e-9)
	mended := mustCost(t, v, Action{2, 1})
	if mended.Failed >= nothing.Failed {
		t.Errorf("repair: harm %.0f, want under %.0f without", mended.Failed, nothing.Failed)
	}
	if _, ok := v.Wait(2, 2); ok {
		t.Error("a repair whose life after the next year is not known can wait; want not")
	}
	if wait, _ := v.Wait(1, 0); wait >= 0 {
		t.Errorf("waiting with cleaning costs %.2f, want it to pay: cleaning avoids nothing", wait)
	}
}

func TestRefusals(t *testing.T) {
	good := Joint{Now: flat(1), Treatments: []Treatment{{Effect: Renews, Site: flat(0), Group: flat(0)}}}
	terms := Terms{Years: 5, Rate: 0.03}
	falling := flat(0.5)
	falling[9] = 0.4
	for _, c := range []struct {
		name  string
		joint func(Joint) Joint
		terms Terms
	}{
		{"no rate", func(j Joint) Joint { return j }, Terms{Years: 5}},
		{"no years", func(j Joint) Joint { return j }, Terms{Rate: 0.03}},
		{"nothing renews", func(j Joint) Joint { j.Treatments = nil; return j }, terms},
		{"not a number", func(j Joint) Joint { j.ConsequenceDollars = math.NaN(); return j }, terms},
		{"falling curve", func(j Joint) Joint { j.Now = falling; return j }, terms},
		{"short curve", func(j Joint) Joint { j.Now = j.Now[:5]; return j }, terms},
	} {
		j := c.joint(good)
		if _, err := NewValue(&j, c.terms); !errors.Is(err, ErrInvalid) {
			t.Errorf("%s: got %v, want ErrInvalid", c.name, err)
		}
	}
	v := mustValue(t, good, terms)
	for _, actions := range [][]Action{{{1, 0}}, {{0, 5}}, {{0, -1}}, {{0, 3}, {0, 3}}, {{0, 3}, {0, 1}}} {
		if _, err := v.Cost(actions...); !errors.Is(err, ErrInvalid) {
			t.Errorf("%v: got %v, want ErrInvalid", actions, err)
		}
	}
}

// How a joint stands at the end of each year. The seal in place has failed with
// 1 − e^(−0.5 t), a new one with 1 − e^(−0.1 t) at its own pace and e^(−0.2 t) at
// any joint's, of which half is kept (site share 0.5); CS4 goes at a tenth of
// these rates. Renewed in the middle of year 2, it is 0.5 years old at the end
// of the third year: 1 − (e^(−0.05) + e^(−0.10))/2 = 0.071966.
func TestStandingByHand(t *testing.T) {
	v := mustValue(t, Joint{
		Now: wearing(0.5), NowCS4: wearing(0.05), ConsequenceDollars: 1000,
		Treatments: []Treatment{
			{Name: "reseal", CostDollars: 9000, Effect: Renews, Site: wearing(0.1), Group: wearing(0.2), SiteCS4: wearing(0.01), GroupCS4: wearing(0.02)},
			{Name: "elimination", CostDollars: 9000, Effect: Removes},
		},
	}, Terms{Years: 6, Rate: 0.03, SiteShare: 0.5})
	for _, test := range []struct {
		name        string
		year        int
		actions     []Action
		failed, cs4 float64
	}{
		{"left alone", 2, nil, 1 - math.Exp(-1), 1 - math.Exp(-0.1)},
		{"before the work", 2, []Action{{0, 2}}, 1 - math.Exp(-1), 1 - math.Exp(-0.1)},
		{"in the year of the work", 3, []Action{{0, 2}}, 0.071966, 1 - (math.Exp(-0.005)+math.Exp(-0.01))/2},
		{"two years on", 5, []Action{{0, 2}}, 1 - (math.Exp(-0.25)+math.Exp(-0.5))/2, 1 - (math.Exp(-0.025)+math.Exp(-0.05))/2},
		{"eliminated", 3, []Action{{1, 2}}, 0, 0},
	} {
		failed, err1 := v.FailedAt(test.year, test.actions...)
		cs4, err2 := v.CS4At(test.year, test.actions...)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		near(t, test.name+": failed", failed, test.failed, 1e-6)
		near(t, test.name+": CS4", cs4, test.cs4, 1e-6)
	}
	for _, year := range []int{0, 7} {
		if _, err := v.FailedAt(year); !errors.Is(err, ErrInvalid) {
			t.Errorf("year %d: got %v, want ErrInvalid", year, err)
		}
	}
}

// A seal failed for sure does C a year: up to the middle of year y its present
// value is C (1 − v^(y+½)) / ln(1 + r), by hand.
func TestHarmUntil(t *testing.T) {
	v := mustValue(t, Joint{Now: flat(1), ConsequenceDollars: 4000, Treatments: []Treatment{
		{Name: "reseal", CostDollars: 5000, Effect: Renews, Site: wearing(0.1), Group: wearing(0.1)},
	}}, Terms{Years: 5, Rate: 0.02})
	for _, year := range []int{0, 3, 30} {
		near(t, "harm", v.HarmUntil(year), 4000*(1-math.Pow(1.02, -float64(year)-0.5))/math.Log(1.02), 4)
	}
}
