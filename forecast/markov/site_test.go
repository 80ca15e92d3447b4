package markov

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sitesPanel is a panel of invented sites, each with some lives one after the
// other, in the order given. Some lives between leave nothing.
func sitesPanel(t testing.TB, order []int) *Panel {
	t.Helper()
	n := network{joints: 120, intervals: 2, rates: []float64{.3, .2, .2}, k: 4, pieces: 3, years: func(r *rand.Rand) float64 {
		return 0.5 + float64(r.IntN(5))/2
	}}
	lives := make([][]Interval, n.joints)
	n.simulate(rand.New(rand.NewPCG(3, 4)), func(life int, seen []Interval) { lives[life] = seen })
	p, err := NewPanel(Worsening(4), 2)
	if err != nil {
		t.Fatal(err)
	}
	for _, site := range order {
		for l := range 1 + site%4 {
			x := []float64{float64(site % 2), float64(l % 2)}
			seen := lives[4*site+l]
			if l > 0 {
				p.Renew(1 + site%2)
			} else {
				p.Begin(site / 2)
			}
			if l == 0 && site%3 == 0 {
				err := p.StartedAt(seen[0].After, x, Start{AgeYears: 3, RecordAgeYears: 2, Replaced: true}, Start{AgeYears: 5, RecordAgeYears: 4})
				if err != nil {
					t.Fatal(err)
				}
				seen = seen[1:]
			}
			for _, v := range seen {
				v.X = x
				if _, err := p.Add(v); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	return p
}

var siteTheta = []float64{-1.2, -1.7, -1.5, .2, .1, -.3, 1.1}

func siteModel(share float64) Model {
	m := mixedModel
	m.SiteShare = share
	return m
}

func TestSiteGradientAgainstDifferences(t *testing.T) {
	p := sitesPanel(t, rand.New(rand.NewPCG(1, 2)).Perm(30))
	for _, share := range []float64{0, 0.3, 0.8, 1} {
		m := siteModel(share)
		_, gradient, err := LogLikelihood(p, m, siteTheta)
		if err != nil {
			t.Fatal(err)
		}
		const h = 1e-5
		for i, got := range gradient {
			at := append([]float64(nil), siteTheta...)
			at[i] = siteTheta[i] + h
			up, _, _ := LogLikelihood(p, m, at)
			at[i] = siteTheta[i] - h
			down, _, _ := LogLikelihood(p, m, at)
			if want := (up - down) / (2 * h); math.Abs(got-want) > 1e-6*(1+math.Abs(want)) {
				t.Errorf("share %v: derivative %d is %v, want %v", share, i, got, want)
			}
		}
	}
}

// Three lives of one site: the likelihood is the mean over who keeps the pace of
// whom, and lives that share one are as one life.
func TestSiteAgainstEveryWayToShare(t *testing.T) {
	lives := make([][]Interval, 3)
	n := network{joints: 3, intervals: 2, rates: []float64{.3, .2, .2}, k: 4, pieces: 3, years: everyTwoYears}
	n.simulate(rand.New(rand.NewPCG(5, 6)), func(life int, seen []Interval) { lives[life] = seen })
	theta := logs([]float64{.3, .2, .2})
	logL := func(share float64, renewals int, groups ...[]int) float64 {
		p, err := NewPanel(Worsening(4), 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, group := range groups {
			p.Begin(1)
			for i, life := range group {
				if i > 0 && renewals > 0 {
					p.Renew(renewals)
				}
				for _, v := range lives[life] {
					if taken, err := p.Add(v); !taken || err != nil {
						t.Fatal(taken, err)
					}
				}
			}
		}
		value, _, err := LogLikelihood(p, Model{K: 2, Pieces: 3, SiteShare: share}, theta)
		if err != nil {
			t.Fatal(err)
		}
		return value
	}
	apart, first := logL(0, 0, []int{0}, []int{1}, []int{2}), logL(0, 0, []int{0, 1}, []int{2})
	last, all := logL(0, 0, []int{0}, []int{1, 2}), logL(0, 0, []int{0, 1, 2})
	for _, test := range []struct {
		share    float64
		renewals int
	}{{0, 1}, {0.3, 1}, {0.9, 1}, {1, 1}, {0.6, 2}} {
		rho := math.Pow(test.share, float64(test.renewals))
		want := math.Log((1-rho)*(1-rho)*math.Exp(apart) + rho*(1-rho)*(math.Exp(first)+math.Exp(last)) + rho*rho*math.Exp(all))
		near(t, "log-likelihood", logL(test.share, test.renewals, []int{0, 1, 2}), want, 1e-12)
	}
}

func TestSiteScoresAddUp(t *testing.T) {
	p := sitesPanel(t, rand.New(rand.NewPCG(1, 2)).Perm(30))
	m := siteModel(0.6)
	_, gradient, err := LogLikelihood(p, m, siteTheta)
	if err != nil {
		t.Fatal(err)
	}
	d, err := newDesign(p.moves, p.covariates, m)
	if err != nil {
		t.Fatal(err)
	}
	e := newEvaluator(p, d)
	e.w, e.siteShare = m.Pieces, m.SiteShare
	if err := e.setPace(math.Exp(siteTheta[6]), 0); err != nil {
		t.Fatal(err)
	}
	sum := make([]float64, d.params)
	scores := e.clusterScores(siteTheta)
	for c := range len(p.clusterOf) {
		addTo(sum, scores[c*d.params:(c+1)*d.params])
	}
	for i, want := range gradient {
		if math.Abs(sum[i]-want) > 1e-9*(1+math.Abs(want)) {
			t.Errorf("scores of parameter %d add up to %v, want %v", i, sum[i], want)
		}
	}
}

func TestOrderOfSitesIsIrrelevant(t *testing.T) {
	var first float64
	for i := range 4 {
		got, _, err := LogLikelihood(sitesPanel(t, rand.New(rand.NewPCG(uint64(i), 0)).Perm(30)), siteModel(0.6), siteTheta)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = got
		}
		near(t, "log-likelihood", got, first, 1e-12)
	}
}

func TestSiteShareOutOfRange(t *testing.T) {
	p := sitesPanel(t, []int{0})
	for _, share := range []float64{-0.1, 1.1, math.NaN()} {
		if _, err := FitPanel(p, siteModel(share)); err == nil {
			t.Errorf("a site share of %v was taken", share)
		}
	}
}
