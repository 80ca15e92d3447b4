package markov

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// The share with which seals keep their site's pace is found again in invented
// networks, and the rates with it.
func TestSiteShareIsRecovered(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	networks := 2
	if os.Getenv("RESEAL_LONG") == "1" {
		networks = 200
	}
	for _, share := range []float64{0, 0.5, 1} {
		s := sites{count: 300, visits: 15, share: share, rates: []float64{.2, .15, .1}, k: 4, pieces: 3}
		found, fits := make([]SiteShare, networks), make([]*Fit, networks)
		parallel(networks, func(i int) {
			p := s.panel(t, rand.New(rand.NewPCG(uint64(i), 21)))
			var err error
			if fits[i], found[i], err = FitSiteShare(p, Model{EstimateK: true, EstimatePieces: true, SiteShare: 0.5}); err != nil {
				t.Error(err)
			}
		})
		if t.Failed() {
			t.FailNow()
		}
		mean, width, holds, slow, known := 0.0, 0.0, 0.0, 0.0, 0.0
		for i, f := range found {
			mean += f.Value / float64(networks)
			width += (f.Upper - f.Lower) / float64(networks)
			if f.Lower <= share && share <= f.Upper {
				holds += 1 / float64(networks)
			}
			rate := fits[i].Estimates[1]
			slow += (rate.Value/s.rates[1] - 1) / float64(networks)
			if rate.Lower <= s.rates[1] && s.rates[1] <= rate.Upper {
				known += 1 / float64(networks)
			}
			if fits[i].Model.SiteShare != f.Value {
				t.Errorf("the fit is at a share of %v, not %v", fits[i].Model.SiteShare, f.Value)
			}
		}
		t.Logf("share %v: found %.3f, intervals %.2f wide of which %.0f %% hold it; rate 2-3 off by %+.1f %%, its intervals hold in %.0f %%",
			share, mean, width, 100*holds, 100*slow, 100*known)
		if off := mean - share; off > 0.15 || off < -0.15 {
			t.Errorf("share %v: found %.3f", share, mean)
		}
	}
}

// Seals without a place in common tell nothing of the share: it is one half, and
// its interval says that nothing is known.
func TestSiteShareOfNoSites(t *testing.T) {
	s := sites{count: 100, visits: 1, share: 0.5, rates: []float64{.2, .15, .1}, k: 4, pieces: 3}
	p := s.panel(t, rand.New(rand.NewPCG(1, 21)))
	_, found, err := FitSiteShare(p, Model{K: 4, Pieces: 3, SiteShare: 0.5})
	if err != nil {
		t.Fatal(err)
	}
	if found.Value < 0.45 || found.Value > 0.55 || found.Lower > 0.1 || found.Upper < 0.9 {
		t.Errorf("got %+v, want about a half and hardly narrower than 0 to 1", found)
	}
}

// The estimate is at the top of the profile of the posterior: with the share held
// a little to either side, the best parameters there do worse.
func TestSiteShareIsAtTheTop(t *testing.T) {
	s := sites{count: 100, visits: 10, share: 0.5, rates: []float64{.2, .15, .1}, k: 4, pieces: 3}
	p := s.panel(t, rand.New(rand.NewPCG(4, 21)))
	m := Model{EstimateK: true, Pieces: 3}
	e, f, err := fitPanel(p, Model{EstimateK: true, Pieces: 3, SiteShare: 0.5}, true)
	if err != nil {
		t.Fatal(err)
	}
	posterior := func(share float64) float64 {
		m.SiteShare = share
		return -mustFit(t, p, m).MinusTwoLogL/2 + math.Log(share*(1-share))
	}
	best, top := e.siteShare, posterior(e.siteShare)
	for _, share := range []float64{best - 0.02, best + 0.02} {
		if posterior(share) >= top {
			t.Errorf("share %.3f: log posterior %.6f, at %.3f %.6f", share, posterior(share), best, top)
		}
	}
	// Newton's step is left with next to nothing.
	if slope := (posterior(best+0.001) - posterior(best-0.001)) / 0.002; math.Abs(slope) > 0.05 {
		t.Errorf("slope %.3f at the estimate", slope)
	}
	c := e.shareCurve(f.Model, &e.best)
	_, slopes := e.shareScores(&e.best, c)
	lower, upper := e.shareInterval(f, c, slopes)
	if !(0 <= lower && lower < best && best < upper && upper <= 1) {
		t.Errorf("interval %.3f to %.3f about %.3f", lower, upper, best)
	}
}

// The errors of the rates take in the share's: those with the share held, and how
// far the rates go with it, both found by fits of their own.
func TestRatesCarryTheShare(t *testing.T) {
	if testing.Short() {
		t.Skip("nothing concurrent that a smaller test does not run too")
	}
	s := sites{count: 150, visits: 12, share: 0.5, rates: []float64{.2, .15, .1}, k: 4, pieces: 3}
	p := s.panel(t, rand.New(rand.NewPCG(5, 21)))
	f, found, err := FitSiteShare(p, Model{EstimateK: true, Pieces: 3})
	if err != nil {
		t.Fatal(err)
	}
	held := func(share float64) *Fit { return mustFit(t, p, Model{EstimateK: true, Pieces: 3, SiteShare: share}) }
	const step = 0.05
	at, above, below := held(found.Value), held(found.Value+step), held(found.Value-step)
	posterior := func(f *Fit) float64 {
		return -f.MinusTwoLogL/2 + math.Log(f.Model.SiteShare*(1-f.Model.SiteShare))
	}
	variance := -step * step / (posterior(above) - 2*posterior(at) + posterior(below))
	most := 0.0
	for i, e := range f.Estimates {
		slope := (above.Theta[i] - below.Theta[i]) / (2 * step)
		want := math.Sqrt(math.Pow(at.Estimates[i].LogSE, 2) + slope*slope*variance)
		if math.Abs(e.LogSE/want-1) > 0.005 {
			t.Errorf("%s: error %.5f, want %.5f, with the share held %.5f", e.Name, e.LogSE, want, at.Estimates[i].LogSE)
		}
		if e.RobustLogSE < 0.9*at.Estimates[i].RobustLogSE {
			t.Errorf("%s: robust error %.5f, with the share held %.5f", e.Name, e.RobustLogSE, at.Estimates[i].RobustLogSE)
		}
		most = max(most, want/at.Estimates[i].LogSE)
		t.Logf("%s: error %.5f (held %.5f), robust %.5f (held %.5f)", e.Name, e.LogSE, at.Estimates[i].LogSE, e.RobustLogSE, at.Estimates[i].RobustLogSE)
	}
	if most < 1.02 {
		t.Errorf("the share adds %.3f at most: the panel shows nothing", most)
	}
}

// A parabola that is 8 · (x − 0.4)² below its top falls by a half at 0.15 and
// 0.65, and by 2 at -0.1, which is past the end.
func TestProfileEnd(t *testing.T) {
	parabola := func(x float64) float64 { return 3 - 8*(x-0.4)*(x-0.4) }
	for _, test := range []struct{ end, limit, want float64 }{{0, 0.5, 0.15}, {1, 0.5, 0.65}, {0, 2, 0}, {1, 2, 0.9}} {
		if got := profileEnd(parabola, 0.4, test.end, 3, test.limit); math.Abs(got-test.want) > 1e-3 {
			t.Errorf("towards %v, limit %v: got %v, want %v", test.end, test.limit, got, test.want)
		}
	}
}
