package strategy

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func drawCurve(t *rapid.T, name string) Curve {
	start, rate := rapid.Float64Range(0, 1).Draw(t, name+" start"), rapid.Float64Range(0.001, 0.8).Draw(t, name+" rate")
	c := wearing(rate)
	for i := range c {
		c[i] = start + (1-start)*c[i]
	}
	return c
}

func drawJoint(t *rapid.T) Joint {
	j := Joint{Now: drawCurve(t, "now"), ConsequenceDollars: rapid.Float64Range(0, 20000).Draw(t, "consequence")}
	for range rapid.IntRange(1, 3).Draw(t, "treatments") {
		j.Treatments = append(j.Treatments, Treatment{
			CostDollars: rapid.Float64Range(100, 80000).Draw(t, "cost"), Effect: Renews,
			Site: drawCurve(t, "site"), Group: drawCurve(t, "group"),
		})
	}
	return j
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJoint(t)
		terms := Terms{
			Years: rapid.IntRange(2, 30).Draw(t, "years"), Rate: rapid.Float64Range(0.005, 0.1).Draw(t, "rate"),
			SiteShare: rapid.Float64Range(0, 1).Draw(t, "site share"),
		}
		v, err := NewValue(&j, terms)
		if err != nil {
			t.Fatal(err)
		}
		year := rapid.IntRange(0, terms.Years-1).Draw(t, "year")
		once, err := v.Cost(Action{0, year})
		if err != nil {
			t.Fatal(err)
		}
		if total := once.Total(); !(total >= 0) || math.IsInf(total, 0) {
			t.Fatalf("cost %v is no amount", once)
		}
		best := v.Best()
		tolerance := 1e-9 * (1 + best.Dollars)
		nothing, _ := v.Cost()
		if best.Beyond && math.Abs(best.Dollars-nothing.Total()) > tolerance {
			t.Fatalf("best is nothing at %.2f, which costs %.2f", best.Dollars, nothing.Total())
		}
		// The best with no limit of money is the best single action or better: the
		// horizon keeps renewals out that it may have.
		if once.Total() < best.Dollars-tolerance {
			t.Fatalf("renewal in year %d costs %.2f, under the best %.2f", year, once.Total(), best.Dollars)
		}
		wait, ok := v.Wait(0, year)
		if !ok {
			t.Fatal("a renewal can always wait")
		}
		b, _ := v.BestOf(0)
		if b.Year == 0 && terms.Years > 1 {
			if first, _ := v.Wait(0, 0); first < -tolerance {
				t.Fatalf("year 0 is best, yet waiting saves %.2f", -first)
			}
		}
		// A worse seal never makes waiting cheaper.
		worse := j
		worse.Now = append(Curve(nil), j.Now...)
		for i := range worse.Now {
			worse.Now[i] += 0.5 * (1 - worse.Now[i])
		}
		w, err := NewValue(&worse, terms)
		if err != nil {
			t.Fatal(err)
		}
		if more, _ := w.Wait(0, year); more < wait-tolerance {
			t.Fatalf("waiting costs %.2f with a worse seal, %.2f before", more, wait)
		}
	})
}

func BenchmarkValue(b *testing.B) {
	j := Joint{
		Now: wearing(0.1), ConsequenceDollars: 4000,
		Treatments: []Treatment{
			{Name: "reseal", CostDollars: 18000, Effect: Renews, Site: wearing(0.1), Group: wearing(0.08)},
			{Name: "new gland", CostDollars: 26000, Effect: Renews, Site: wearing(0.05), Group: wearing(0.05)},
		},
	}
	b.ReportAllocs()
	for b.Loop() {
		v, err := NewValue(&j, Terms{Years: 20, Rate: 0.02, SiteShare: 0.5})
		if err != nil {
			b.Fatal(err)
		}
		v.Best()
		for y := range 20 {
			v.Wait(0, y)
			if _, err := v.Cost(Action{0, y}); err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "joints/s")
}
