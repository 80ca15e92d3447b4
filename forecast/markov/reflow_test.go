package markov

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Scaling keeps the margins that the flows began with, takes nothing back from
// worse to better, and keeps the odds ratios of the chain.
func TestProportion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, err := NewChain(Worsening(4), []float64{
			rapid.Float64Range(0.05, 1).Draw(t, "q1"), rapid.Float64Range(0.05, 1).Draw(t, "q2"), rapid.Float64Range(0.05, 1).Draw(t, "q3"),
		})
		if err != nil {
			t.Fatal(err)
		}
		before := drawShares(t)
		p := c.P(make([]float64, 16), rapid.Float64Range(0.5, 5).Draw(t, "years"))
		after := make([]float64, 4)
		ShareAfter(after, before, p)
		flow := append([]float64(nil), p...)
		close := func(name string, got, want float64) {
			if math.Abs(got-want) > 1e-6 {
				t.Errorf("%s: %v, want %v", name, got, want)
			}
		}
		proportion(flow, before, after)
		for i := range 4 {
			row, column := 0.0, 0.0
			for j := range 4 {
				row += flow[i*4+j]
				column += flow[j*4+i]
				if j < i && flow[i*4+j] != 0 {
					t.Errorf("flow back from %d to %d: %v", i+1, j+1, flow[i*4+j])
				}
				// shares after as expected: the flows are as expected, too
				close("flow", flow[i*4+j], before[i]*p[i*4+j])
			}
			close("row", row, before[i])
			close("column", column, after[i])
		}
	})
}

// Four feet: two in CS1 and two in CS2 before, one in CS2 and three in CS3
// after. Lined up, both of CS2 went on and one of CS1 went two states; else one
// of CS2 stayed and both of CS1 went two states. The
// margins and the odds ratio of P, which scaling keeps, settle how much of each.
func TestProportionByHand(t *testing.T) {
	flow := []float64{0.5, 0.3, 0.2, 0, 0.6, 0.4, 0, 0, 1}
	odds := flow[1] * flow[5] / (flow[2] * flow[4])
	proportion(flow, []float64{0.5, 0.5, 0}, []float64{0, 0.25, 0.75})
	near(t, "odds ratio", flow[1]*flow[5]/(flow[2]*flow[4]), odds, 1e-6)
	near(t, "before", flow[1]+flow[2], 0.5, 1e-7)
	near(t, "after", flow[1]+flow[4], 0.25, 1e-7)
	if flow[0] != 0 {
		t.Errorf("%v stayed in CS1, which is empty after", flow[0])
	}
}

// Of ten feet, four in CS1 and six in CS2 before; four in CS1 and three in CS3
// after. As many are in CS1 as before, so none left it, and the three in CS3 came
// from CS2: the margins alone settle every flow.
func TestProportionWithoutChoice(t *testing.T) {
	flow := []float64{0.5, 0.3, 0.2, 0, 0.6, 0.4, 0, 0, 1}
	proportion(flow, []float64{0.4, 0.6, 0}, []float64{0.4, 0.3, 0.3})
	for i, want := range []float64{0.4, 0, 0, 0, 0.3, 0.3, 0, 0, 0} {
		if math.Abs(flow[i]-want) > 1e-8 {
			t.Errorf("flow from %d to %d: %v, want %v", i/3+1, i%3+1, flow[i], want)
		}
	}
}
