package markov

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// everyPath is the probability of being rated as was seen at looks so many years
// apart, by true state at the last of them: the sum over every path of the true
// state, with transition probabilities of the general matrix exponential of gonum.
func everyPath(c Chain, z float64, begin int, years []float64, seen []int, rated []float64) (ending [4]float64) {
	var follow func(t, state int, probability float64)
	follow = func(t, state int, probability float64) {
		if t == len(years) {
			ending[state] += probability
			return
		}
		p := exactly(c, z*years[t])
		for next := range 4 {
			follow(t+1, next, probability*p.At(state, next)*rated[4*next+seen[t]])
		}
	}
	follow(0, begin, 1)
	return ending
}

func exactly(c Chain, years float64) *mat.Dense {
	var p mat.Dense
	q := mat.NewDense(4, 4, c.Q())
	q.Scale(years, q)
	p.Exp(q)
	return &p
}

// What is filtered, weighed and projected of a joint of two parts, against every path
// of their true states at every pace, by direct summation. Years are those of
// nodes, at which nothing is interpolated, and where a joint is one piece it fails
// with the probability that it is in CS4. A part was seen there before the last
// look, and may be there still.
func TestFilteredForecastAgainstEveryPath(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{.3, .2, .15})
	if err != nil {
		t.Fatal(err)
	}
	pace := Pace{Prior: []float64{.1, .2, .4, .2, .1}} // none so small that a projection leaves it out
	for g := range 5 {
		pace.Z = append(pace.Z, 0.4*math.Pow(1.6, float64(g)))
	}
	rated := SharedErrors(4, Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}, 0.1)
	years := []float64{3, 1.5, 2.25}
	parts := []struct {
		share float64
		seen  []int
	}{{0.6, []int{0, 1, 0}}, {0.4, []int{1, 3, 2}}}
	run := Run{True: []float64{1, 0, 0, 0}, Looks: []Interval{
		{Years: years[0], After: []float64{.6, .4, 0, 0}},
		{Years: years[1], After: []float64{0, .6, 0, .4}},
		{Years: years[2], After: []float64{.6, 0, .4, 0}},
	}}
	for _, pieces := range []float64{1, 2.5} {
		want, sum := make([]float64, 5), 0.0
		var ends [5][2][4]float64 // where each part may be, at each pace
		for g, z := range pace.Z {
			want[g] = pace.Prior[g]
			for k, part := range parts {
				ending, all := everyPath(c, z, 0, years, part.seen, rated), 0.0
				for _, p := range ending {
					all += p
				}
				want[g] *= math.Pow(all, pieces*part.share)
				for j, p := range ending {
					ends[g][k][j] = p / all
				}
			}
			sum += want[g]
		}
		wide := LikelyWidth(4)
		got, weights := make([]float64, 5*wide), make([]float64, 5)
		if err := pace.Filter(got, weights, c, run, rated, pieces); err != nil {
			t.Fatal(err)
		}
		pace.Weigh(weights, pace.Prior, weights)
		for g := range want {
			within(t, "weight of a pace", weights[g], want[g]/sum)
		}
		for g := range ends {
			for j := range 4 {
				within(t, "share at the last look", got[g*wide+j], .6*ends[g][0][j]+.4*ends[g][1][j])
			}
		}

		o, err := NewOutlook(c, pace, Failure{Pieces: pieces}, 40)
		if err != nil {
			t.Fatal(err)
		}
		ahead := []float64{0}
		for _, u := range o.nodes {
			if y := u / pace.Z[0]; y > 0.5 && y < 30 {
				ahead = append(ahead, y)
			}
		}
		var out Projection
		o.Project(&out, got, weights, ahead)
		for i, year := range ahead {
			var mean, square [4]float64
			failed := 0.0
			for g, z := range pace.Z {
				p := exactly(c, z*year)
				for j := range 4 {
					m, v := 0.0, 0.0
					for k, part := range parts {
						q := 0.0 // that the part is in state j
						for i, a := range ends[g][k] {
							q += a * p.At(i, j)
						}
						m += part.share * q
						v += part.share * q * (1 - q)
					}
					mean[j] += want[g] / sum * m
					square[j] += want[g] / sum * (m*m + v/pieces)
					if j == 3 {
						failed += want[g] / sum * m
					}
				}
			}
			for j := range 4 {
				within(t, "share to come", out.Shares[4*i+j], mean[j])
				within(t, "variance to come", out.Variance[4*i+j], square[j]-mean[j]*mean[j])
			}
			if pieces == 1 {
				within(t, "probability of failure", out.Failed[i], failed)
			}
		}
	}
}

// Rows aged to a later look are those of it.
func TestAgeAgainstEveryPath(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{.3, .2, .15})
	if err != nil {
		t.Fatal(err)
	}
	pace, wide := Pace{Z: []float64{0.7, 1.6}}, LikelyWidth(4)
	rated := SharedErrors(4, Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}, 0.1)
	rows := make([]float64, 2*wide)
	run := Run{True: []float64{1, 0, 0, 0}, Looks: []Interval{{Years: 3, After: []float64{.6, .4, 0, 0}}}}
	if err := pace.Filter(rows, make([]float64, 2), c, run, rated, 1); err != nil {
		t.Fatal(err)
	}
	pace.Age(rows, c, 2)
	for g, z := range pace.Z {
		want := make([]float64, wide)
		for seen, share := range []float64{.6, .4} {
			ending := everyPath(c, z, 0, []float64{3}, []int{seen}, rated)
			p, all, after := exactly(c, z*2), 0.0, make([]float64, 4)
			for i, a := range ending {
				all += a
				for j := range 4 {
					after[j] += a * p.At(i, j)
				}
			}
			for j := range after {
				after[j] /= all
			}
			for i, a := range after {
				want[i] += share * a
				for j, b := range after {
					want[4+4*i+j] += share * a * b
				}
			}
		}
		for i, v := range want {
			within(t, "aged", rows[g*wide+i], v)
		}
	}
}

func within(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-10) {
		t.Errorf("%s: %.12f, want %.12f", what, got, want)
	}
}

// The band of a share over two paces of like weight, each with shares of its own, is
// that over two draws of one pace.
func TestShareBandByPace(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{.3, .2, .15})
	if err != nil {
		t.Fatal(err)
	}
	slow, fast := []float64{.9, .1, 0, 0}, []float64{.3, .6, .1, 0}
	z := []float64{0.5, 1.5}
	outlook := func(z ...float64) *Outlook {
		o, err := NewOutlook(c, Pace{Z: z, Prior: make([]float64, len(z))}, Failure{}, 20)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	for state := range 4 {
		wide := LikelyWidth(4)
		rows := make([]float64, 2*wide)
		Certainly(rows[:wide], slow)
		Certainly(rows[wide:], fast)
		got, err := ShareBand([]*Outlook{outlook(z...)}, [][]float64{rows}, [][]float64{{.5, .5}}, state, 4, .9)
		if err != nil {
			t.Fatal(err)
		}
		want, err := ShareBand([]*Outlook{outlook(z[0]), outlook(z[1])}, [][]float64{slow, fast}, [][]float64{{1}, {1}}, state, 4, .9)
		if err != nil {
			t.Fatal(err)
		}
		within(t, "end of the band", got, want)
	}
}
