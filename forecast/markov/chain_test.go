package markov

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// cavChain is the chain that Jackson (2011), Multi-State Models for Panel
// Data: The msm Package for R, J. Stat. Softw. 38(8), fits to heart transplant
// patients, to five digits.
func cavChain(t testing.TB) Chain {
	t.Helper()
	moves, err := ParseMoves("1-2,1-4,2-1,2-3,2-4,3-2,3-4")
	if err != nil {
		t.Fatal(err)
	}
	c, err := NewChain(moves, []float64{0.12787, 0.04250, 0.22512, 0.34261, 0.04021, 0.13062, 0.30648})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Values by R's msm at the fitted parameters; see testdata/markov/golden.R.
func TestPAgainstMsm(t *testing.T) {
	c := cavChain(t)
	for _, test := range []struct {
		name  string
		years float64
		want  []float64
	}{
		{"one year", 1, []float64{
			.853959, .088370, .014755, .042916,
			.155577, .566633, .205996, .071795,
			.009904, .078537, .659657, .251902,
			0, 0, 0, 1,
		}},
		{"ten years, first row", 10, []float64{.309407, .097500, .087873, .505221}},
	} {
		got := c.P(make([]float64, 16), test.years)
		for i, want := range test.want {
			if math.Abs(got[i]-want) > 1e-5 { // the rates above carry five digits
				t.Errorf("%s: P[%d] = %.6f, want %.6f", test.name, i, got[i], want)
			}
		}
	}
}

// Kalbfleisch & Lawless (1985), J. Am. Stat. Assoc. 80:863, section 2: the
// progressive chain, p12 = q1/(q2-q1) (exp(-q1 t) - exp(-q2 t)).
func TestPOneWayClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q1 := rapid.Float64Range(0.01, 2).Draw(t, "q1")
		q2 := q1 * rapid.Float64Range(1.2, 3).Draw(t, "ratio")
		years := rapid.Float64Range(0.01, 40).Draw(t, "years")
		c, err := NewChain(Worsening(3), []float64{q1, q2})
		if err != nil {
			t.Fatal(err)
		}
		p := c.P(make([]float64, 9), years)
		e1, e2 := math.Exp(-q1*years), math.Exp(-q2*years)
		for _, v := range []struct{ got, want float64 }{{p[0], e1}, {p[1], q1 / (q2 - q1) * (e1 - e2)}, {p[4], e2}} {
			if math.Abs(v.got-v.want) > 1e-12*(1+1/(q1*years)) {
				t.Errorf("got %v, want %v", v.got, v.want)
			}
		}
	})
}

// With equal rates the number of moves is Poisson; the last entry must keep its
// digits even after a day.
func TestPEqualRatesIsPoisson(t *testing.T) {
	c, err := NewChain(Worsening(4), []float64{0.3, 0.3, 0.3})
	if err != nil {
		t.Fatal(err)
	}
	for _, years := range []float64{1 / 365.25, 0.5, 7, 100, 1e4} {
		p := c.P(make([]float64, 16), years)
		x := 0.3 * years
		tail := 0.0 // P(N ≥ 3), summed from the smallest term that counts
		for k := 60 + int(3*x); k >= 3; k-- {
			lg, _ := math.Lgamma(float64(k) + 1)
			tail += math.Exp(float64(k)*math.Log(x) - x - lg)
		}
		for i, want := range []float64{math.Exp(-x), x * math.Exp(-x), x * x / 2 * math.Exp(-x), tail} {
			if math.Abs(p[i]-want) > 1e-11*want {
				t.Errorf("%v years: P[0][%d] = %v, want %v", years, i, p[i], want)
			}
		}
	}
}

func TestPAgainstGonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawChain(t)
		n := c.States()
		years := rapid.Float64Range(0, 30).Draw(t, "years")
		var want mat.Dense
		q := mat.NewDense(n, n, c.Q())
		q.Scale(years, q)
		want.Exp(q)
		got := c.P(make([]float64, n*n), years)
		for i := range n {
			sum := 0.0
			for j := range n {
				sum += got[i*n+j]
				if math.Abs(got[i*n+j]-want.At(i, j)) > 1e-11 {
					t.Fatalf("P[%d][%d] = %v, want %v", i, j, got[i*n+j], want.At(i, j))
				}
			}
			if math.Abs(sum-1) > 1e-12 {
				t.Fatalf("row %d adds up to %v", i, sum)
			}
		}
	})
}

// drawChain draws a chain of 2 to 5 states with any moves.
func drawChain(t *rapid.T) Chain {
	n := rapid.IntRange(2, 5).Draw(t, "states")
	moves := Worsening(n)
	for i := range n {
		for j := range n {
			if j != i && j != i+1 && rapid.Bool().Draw(t, "allowed") {
				moves = append(moves, Move{i, j})
			}
		}
	}
	rates := make([]float64, len(moves))
	for i := range rates {
		rates[i] = rapid.Float64Range(0, 2).Draw(t, "rate")
	}
	c, err := NewChain(moves, rates)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The yearly probability of staying is 0.5^(1/T) for a median stay of T years:
// the convention for bridge elements of NCHRP Report 713 vol. 1 (from memory).
func TestMedianYears(t *testing.T) {
	medians := []float64{2, 5, 8, 10, 15, 20}
	c, err := WorseningChain(medians...)
	if err != nil {
		t.Fatal(err)
	}
	p := c.P(make([]float64, 49), 1)
	for i, want := range []float64{0.70711, 0.87055, 0.91700, 0.93303, 0.95484, 0.96594} {
		if got := p[i*7+i]; math.Abs(got-want) > 5e-6 {
			t.Errorf("median %v: stay %v, want %v", medians[i], got, want)
		}
		if got := c.MedianYears()[i]; math.Abs(got-medians[i]) > 1e-12 {
			t.Errorf("median %v came back as %v", medians[i], got)
		}
	}
}

func TestMoves(t *testing.T) {
	for _, bad := range []string{"", "1", "1-1", "0-1", "1-2,1-2", "1-9", "a-b"} {
		if _, err := ParseMoves(bad); !errors.Is(err, ErrInvalid) {
			t.Errorf("ParseMoves(%q): error %v", bad, err)
		}
	}
	m, err := ParseMoves("1-2, 2-1,2-3")
	if err != nil || m.String() != "1-2,2-1,2-3" || m.States() != 3 || m.OneWay() || !m.Absorbing(2) {
		t.Errorf("got %v, %v", m, err)
	}
	if !Worsening(4).OneWay() {
		t.Error("worsening moves are not one way")
	}
}

func FuzzParseMoves(f *testing.F) {
	f.Add("1-2,2-3,3-4")
	f.Add("1-,")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ParseMoves(text)
		if err != nil {
			return
		}
		if again, err := ParseMoves(m.String()); err != nil || again.String() != m.String() {
			t.Errorf("%q read as %v, then %v (%v)", text, m, again, err)
		}
	})
}

func TestNewChainRefuses(t *testing.T) {
	for _, rates := range [][]float64{{1}, {1, -1}, {1, math.NaN()}, {1, math.Inf(1)}} {
		if _, err := NewChain(Worsening(3), rates); !errors.Is(err, ErrInvalid) {
			t.Errorf("rates %v: error %v", rates, err)
		}
	}
	if _, err := WorseningChain(3, 0); !errors.Is(err, ErrInvalid) {
		t.Errorf("median 0: error %v", err)
	}
}

func BenchmarkP(b *testing.B) {
	oneWay, _ := WorseningChain(4, 6, 8)
	for _, c := range []struct {
		name  string
		chain Chain
	}{{"one way", oneWay}, {"both ways", cavChain(b)}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			dst := make([]float64, 16)
			for b.Loop() {
				c.chain.P(dst, 3.7)
			}
		})
	}
}

func BenchmarkPDerivatives(b *testing.B) {
	oneWay, _ := WorseningChain(4, 6, 8)
	for _, c := range []struct {
		name  string
		chain Chain
	}{{"one way", oneWay}, {"both ways", cavChain(b)}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var e expm
			e.init(c.chain.moves, 4, c.chain.oneWay)
			p, dp := make([]float64, 16), make([]float64, 16*len(c.chain.moves))
			for b.Loop() {
				e.expDerivatives(p, dp, c.chain.rates, 3.7)
			}
		})
	}
}

// Derivatives against central differences of P.
func TestPDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawChain(t)
		n := c.States()
		years := rapid.Float64Range(0.01, 20).Draw(t, "years")
		for i := range c.rates {
			c.rates[i] += 0.01
		}
		var e expm
		e.init(c.moves, n, c.oneWay)
		p, dp := make([]float64, n*n), make([]float64, n*n*len(c.moves))
		e.expDerivatives(p, dp, c.rates, years)
		const h = 1e-5
		up, down := make([]float64, n*n), make([]float64, n*n)
		for m := range c.moves {
			rates := append([]float64(nil), c.rates...)
			rates[m] = c.rates[m] * math.Exp(h)
			e.exp(up, rates, years)
			rates[m] = c.rates[m] * math.Exp(-h)
			e.exp(down, rates, years)
			for i := range up {
				want := (up[i] - down[i]) / (2 * h)
				if got := dp[m*n*n+i]; math.Abs(got-want) > 1e-8 {
					t.Fatalf("move %v: dP[%d] = %v, want %v", c.moves[m], i, got, want)
				}
			}
		}
	})
}
