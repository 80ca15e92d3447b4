package markov

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

var onePace = Pace{Z: []float64{1}, Prior: []float64{1}}

// Half of the feet leave CS1 in two years, and one rating in ten is wrong. All is
// in CS1 when new; two years later half is seen in CS2, four years later three
// quarters. By hand, (CS1, CS2):
//
//	first look   seen in CS1: 0.5 · 0.9 against 0.5 · 0.1 → 0.9, 0.1
//	             seen in CS2: 0.5 · 0.1 against 0.5 · 0.9 → 0.1, 0.9
//	a quarter seen in CS1, CS1: before it 0.45, 0.55; 0.405 against 0.055
//	a quarter seen in CS1, CS2: the same;             0.045 against 0.495
//	half      seen in CS2, CS2: 0.05, 0.95;           0.005 against 0.855
func TestFilterByHand(t *testing.T) {
	c, err := WorseningChain(2)
	if err != nil {
		t.Fatal(err)
	}
	rated := SharedErrors(2, Moves{{0, 1}, {1, 0}}, 0.1)
	v := Run{True: []float64{1, 0}, Looks: []Interval{{Years: 2, After: []float64{0.5, 0.5}}}}
	got := make([]float64, LikelyWidth(2))
	if err := onePace.Filter(got, make([]float64, 1), c, v, rated, 1); err != nil {
		t.Fatal(err)
	}
	near(t, "CS1 at the first look", got[0], 0.5, 1e-12)
	v.Looks = append(v.Looks, Interval{Years: 2, After: []float64{0.25, 0.75}})
	if err := onePace.Filter(got, make([]float64, 1), c, v, rated, 1); err != nil {
		t.Fatal(err)
	}
	near(t, "CS1 at the second", got[0], 0.25*0.405/0.46+0.25*0.045/0.54+0.5*0.005/0.86, 1e-12)
	near(t, "all", got[0]+got[1], 1, 1e-12)
}

// Joints in one state at each look, against the R package msm 1.7 (viterbi.msm,
// whose probabilities at the last look are those of the forward algorithm) with
// rates of 0.2, 0.15 and 0.1, an error of 0.1 shared among neighbours, and the
// first state certain:
//
//	q <- rbind(c(0,.2,0,0), c(0,0,.15,0), c(0,0,0,.1), c(0,0,0,0))
//	e <- rbind(c(0,.1,0,0), c(.05,0,.05,0), c(0,.05,0,.05), c(0,0,.1,0))
//	d <- data.frame(id=1, time=c(0,4,6,8), state=c(1,2,1,2))
//	viterbi.msm(msm(state~time, subject=id, data=d, qmatrix=q, ematrix=e,
//	    initprobs=c(1,0,0,0), obstrue=c(1,0,0,0), fixedpars=TRUE))$pstate
func TestFilterAgainstMsm(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{.2, .15, .1})
	if err != nil {
		t.Fatal(err)
	}
	rated := SharedErrors(4, Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}, 0.1)
	at := func(state int) []float64 {
		shares := make([]float64, 4)
		shares[state] = 1
		return shares
	}
	for _, test := range []struct {
		looks []Interval
		want  []float64
	}{
		{
			[]Interval{{Years: 4, After: at(1)}, {Years: 2, After: at(0)}, {Years: 2, After: at(1)}},
			[]float64{0.0999121700593, 0.8878406887135, 0.0122471412272, 0},
		},
		{
			[]Interval{{Years: 10, After: at(2)}, {Years: 2, After: at(2)}},
			[]float64{0, 0.00272927956194, 0.96648128946641, 0.03078943097166},
		},
	} {
		got := make([]float64, LikelyWidth(4))
		if err := onePace.Filter(got, make([]float64, 1), c, Run{True: at(0), Looks: test.looks}, rated, 1); err != nil {
			t.Fatal(err)
		}
		for j, want := range test.want {
			if math.Abs(got[j]-want) > 1e-11 {
				t.Errorf("CS%d: %.12f, want %.12f", j+1, got[j], want)
			}
		}
	}
}

// Over two paces the shares are those at each by itself; without errors they are
// those seen; looks that errors cannot explain are impossible.
func TestFilterOfPacesAndWithoutErrors(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{.2, .15, .1})
	if err != nil {
		t.Fatal(err)
	}
	neighbours := Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}
	v := Run{True: []float64{1, 0, 0, 0}, Looks: []Interval{
		{Years: 6, After: []float64{.4, .3, .2, .1}}, {Years: 2, After: []float64{.3, .45, .2, .05}},
	}}
	two, logs := Pace{Z: []float64{0.5, 2}}, make([]float64, 2)
	rated := SharedErrors(4, neighbours, 0.05)
	wide := LikelyWidth(4)
	both := make([]float64, 2*wide)
	if err := two.Filter(both, logs, c, v, rated, 3); err != nil {
		t.Fatal(err)
	}
	for g, z := range two.Z {
		alone, logP := make([]float64, wide), make([]float64, 1)
		if err := (Pace{Z: []float64{z}}).Filter(alone, logP, c, v, rated, 3); err != nil {
			t.Fatal(err)
		}
		near(t, "logarithm", logs[g], logP[0], 1e-12)
		for j, want := range alone {
			near(t, "share", both[wide*g+j], want, 1e-12)
		}
	}
	if !(both[wide+3] > both[3]) {
		t.Errorf("CS4 %.4f at a fast pace, %.4f at a slow one", both[wide+3], both[3])
	}
	v.Looks[1].After = []float64{.2, .3, .3, .2}
	if err := two.Filter(both, logs, c, v, SharedErrors(4, neighbours, 0), 3); err != nil {
		t.Fatal(err)
	}
	for j, want := range v.Looks[1].After {
		near(t, "share without errors", both[j], want, 1e-12)
		near(t, "share without errors", both[wide+j], want, 1e-12)
	}
	v.True, v.Looks = []float64{0, 0, 0, 1}, []Interval{{Years: 2, After: []float64{1, 0, 0, 0}}}
	if err := two.Filter(both, logs, c, v, rated, 3); !errors.Is(err, ErrImpossible) {
		t.Errorf("from CS4 to CS1: error %v, want ErrImpossible", err)
	}
}

// Invented joints of three pieces, of which one rating in twenty is one state off,
// seen four times: the filtered shares are nearer the truth than those of the last
// look, and forecasts from them tell better which joints truly fail within four years.
func TestFilterHelps(t *testing.T) {
	const joints = 6000
	r := rand.New(rand.NewPCG(21, 4))
	n := network{joints: joints, intervals: 6, rates: []float64{.2, .15, .1}, pieces: 3, years: everyTwoYears}
	c, _ := NewChain(Worsening(4), n.rates)
	o, err := NewOutlook(c, onePace, Failure{Pieces: 3}, 10)
	if err != nil {
		t.Fatal(err)
	}
	rated := SharedErrors(4, Moves{{0, 1}, {1, 0}, {1, 2}, {2, 1}, {2, 3}, {3, 2}}, 0.05)
	look := func(after []float64) []float64 { // each piece rated by itself
		seen := make([]float64, 4)
		for state, s := range after {
			for range int(math.Round(3 * s)) {
				x, as := r.Float64(), 0
				for x -= rated[state*4]; x >= 0 && as < 3; x -= rated[state*4+as] {
					as++
				}
				seen[as] += 1.0 / 3
			}
		}
		return seen
	}
	var out Projection
	var off, score [2]float64 // at the word of the last look, and filtered
	count := 0.0
	n.simulate(r, func(_ int, seen []Interval) {
		v := Run{True: []float64{1, 0, 0, 0}}
		for _, s := range seen[:4] {
			v.Looks = append(v.Looks, Interval{Years: s.Years, After: look(s.After)})
		}
		word, filtered := v.Looks[3].After, make([]float64, LikelyWidth(4))
		if word[3] > 0 || onePace.Filter(filtered, make([]float64, 1), c, v, rated, 3) != nil {
			return
		}
		count++
		for i, shares := range [][]float64{word, filtered} {
			for j, s := range shares[:4] {
				off[i] += (s - seen[3].After[j]) * (s - seen[3].After[j])
			}
			o.Project(&out, shares, []float64{1}, []float64{4})
			p := out.Failed[0]
			if seen[5].After[3] == 0 {
				p = 1 - p
			}
			score[i] -= math.Log(p)
		}
	})
	t.Logf("%v joints: squared error of the shares %.4f as seen, %.4f filtered; log score %.4f and %.4f",
		count, off[0]/count, off[1]/count, score[0]/count, score[1]/count)
	if off[1] >= off[0] || score[1] >= score[0] {
		t.Errorf("filtered, shares are off by %.4f and the log score is %.4f; as seen %.4f and %.4f", off[1]/count, score[1]/count, off[0]/count, score[0]/count)
	}
}
