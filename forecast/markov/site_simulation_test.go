package markov

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// sites are invented places where each seal that is seen with a piece in the
// last state is replaced half a year later.
type sites struct {
	count  int
	visits int // every two years, from new on
	share  float64
	rates  []float64
	k      float64
	pieces int
}

// panel watches the sites and puts all lives on record.
func (s sites) panel(t testing.TB, r *rand.Rand) *Panel {
	t.Helper()
	p, err := NewPanel(Worsening(len(s.rates)+1), 0)
	if err != nil {
		t.Fatal(err)
	}
	worst := len(s.rates)
	for site := range s.count {
		p.Begin(site)
		z := gamma(r, s.k) / s.k
		state := make([]int, s.pieces)
		before := append([]float64{1}, make([]float64, worst)...)
		years := 2.0
		for range s.visits {
			after := make([]float64, worst+1)
			for i := range state {
				for left := years; state[i] < worst; state[i]++ {
					if left -= r.ExpFloat64() / (z * s.rates[state[i]]); left < 0 {
						break
					}
				}
				after[state[i]] += 1 / float64(s.pieces)
			}
			if taken, err := p.Add(Interval{Years: years, Before: before, After: after}); !taken || err != nil {
				t.Fatal(taken, err)
			}
			before, years = after, 2
			if after[worst] == 0 {
				continue
			}
			p.Renew(1)
			if r.Float64() >= s.share {
				z = gamma(r, s.k) / s.k
			}
			clear(state)
			before, years = append([]float64{1}, make([]float64, worst)...), 1.5
		}
	}
	return p
}

// Sites whose seals share a pace: fitted as lives that each have their own, the
// rates come out too fast; by the likelihood of the sites they come out right.
func TestSitesAreRecovered(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	networks := 6
	if os.Getenv("RESEAL_LONG") == "1" {
		networks = 200
	}
	for _, share := range []float64{0, 0.5, 1} {
		s := sites{count: 300, visits: 15, share: share, rates: []float64{.2, .15, .1}, k: 4, pieces: 3}
		truth := append(logs(s.rates), math.Log(s.k))
		apart, right := make([]*Fit, networks), make([]*Fit, networks)
		parallel(networks, func(i int) {
			p := s.panel(t, rand.New(rand.NewPCG(uint64(i), 21)))
			apart[i] = mustFit(t, p, Model{EstimateK: true, EstimatePieces: true})
			right[i] = mustFit(t, p, Model{EstimateK: true, EstimatePieces: true, SiteShare: share})
		})
		count := float64(networks)
		for j, want := range truth {
			var off, offApart, se, covered float64
			for i, f := range right {
				d := f.Theta[j] - want
				off += d / count
				offApart += (apart[i].Theta[j] - want) / count
				se += f.Estimates[j].RobustLogSE / count
				if math.Abs(d) < 1.6449*f.Estimates[j].RobustLogSE {
					covered += 1 / count
				}
			}
			t.Logf("share %v, %s: off by %.4f (standard error %.4f, 90 %% intervals cover %.3f), fitted apart by %.4f",
				share, right[0].Estimates[j].Name, off, se, covered, offApart)
			if chance := 3 * se / math.Sqrt(count); math.Abs(off) > 0.25*se+chance {
				t.Errorf("share %v, %s: off by %.4f with a standard error of %.4f", share, right[0].Estimates[j].Name, off, se)
			}
			if share == 1 && j < 3 && offApart < 0.1 {
				t.Errorf("%s: fitted apart off by only %.4f; the test does not test", right[0].Estimates[j].Name, offApart)
			}
		}
	}
}
