package markov

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The table against the Beta form, whatever the rule and the chain.
func TestTailTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := Failure{ShareLimit: rapid.Float64Range(0.02, highestLimit).Draw(t, "limit"), Pieces: rapid.Float64Range(1.05, mostPieces).Draw(t, "pieces")}
		q := rapid.SliceOfN(rapid.Float64Range(0, 1), 3, 3).Draw(t, "reached the worst")
		p := []float64{0, 0, 0, q[0], 0, 0, 0, q[1], 0, 0, 0, q[2], 0, 0, 0, 1}
		shares := drawShares(t)
		if rapid.Bool().Draw(t, "nothing in the worst state") {
			shares[0] += shares[3]
			shares[3] = 0
		}
		of := (&Outlook{rule: rule, tail: tailsOf(rule)}).failing(shares)
		got, want := of.probability(p), rule.probability(shares, p)
		if math.Abs(got-want) > 1e-3 {
			t.Errorf("pieces %v, limit %v, shares %v, reached %v: got %v, want %v", rule.Pieces, rule.ShareLimit, shares, q, got, want)
		}
	})
}

func TestNoTailTable(t *testing.T) {
	for _, rule := range []Failure{{0.1, 0.5}, {0.1, 1}, {0.1, mostPieces + 1}, {0.4, 3}} {
		if tailsOf(rule) != nil {
			t.Errorf("%+v has a table", rule)
		}
	}
}
