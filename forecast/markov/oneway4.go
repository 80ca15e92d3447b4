package markov

import "math"

// oneWay4 is expm for the one-way chain of four states, written out: the
// chain of nearly every seal, worked for each step and pace of a fit. It is
// the same series, several times as fast as the loops (BenchmarkPDerivatives).
// Numbers at the end of a name are row and column; d0, d1 and d2 are derivatives by the
// logarithm of the rate out of each state.
type oneWay4 struct {
	p00, p01, p02, p03, p11, p12, p13, p22, p23, p33 float64
	d000, d001, d002, d003                           float64
	d101, d102, d103, d111, d112, d113               float64
	d202, d203, d212, d213, d222, d223               float64
}

// isOneWay4 reports whether the moves are those of Worsening(4), in order.
func isOneWay4(moves Moves) bool {
	return len(moves) == 3 && moves[0] == Move{0, 1} && moves[1] == Move{1, 2} && moves[2] == Move{2, 3}
}

// exp sets the probabilities, and with derivatives those too, for rates a, b
// and c times the time.
func (x *oneWay4) exp(a, b, c float64, derivatives bool) {
	l := max(a, b, c)
	squarings := 0
	if l > 0.5 {
		_, squarings = math.Frexp(2 * l)
		f := math.Ldexp(1, -squarings)
		a, b, c, l = a*f, b*f, c*f, l*f
	}
	e := math.Exp(-l)
	t := oneWay4{p00: e, p11: e, p22: e, p33: e}
	*x = t
	size := 1.0
	for k := 1; k <= 4 || size >= 1e-19; k++ {
		f := 1 / float64(k)
		size *= l * f
		t.step((l-a)*f, (l-b)*f, (l-c)*f, l*f, a*f, b*f, c*f, derivatives)
		x.add(&t, derivatives)
	}
	for range squarings {
		x.square(derivatives)
	}
}

// step goes on to the next term of the series, from the first row down, so
// that each row still finds the old one below it.
func (t *oneWay4) step(stay0, stay1, stay2, stay3, a, b, c float64, derivatives bool) {
	if derivatives {
		t.d000 = stay0*t.d000 - a*t.p00
		t.d001 = stay0*t.d001 + a*(t.p11-t.p01)
		t.d002 = stay0*t.d002 + a*(t.p12-t.p02)
		t.d003 = stay0*t.d003 + a*(t.p13-t.p03)
		t.d101 = stay0*t.d101 + a*t.d111
		t.d102 = stay0*t.d102 + a*t.d112
		t.d103 = stay0*t.d103 + a*t.d113
		t.d111 = stay1*t.d111 - b*t.p11
		t.d112 = stay1*t.d112 + b*(t.p22-t.p12)
		t.d113 = stay1*t.d113 + b*(t.p23-t.p13)
		t.d202 = stay0*t.d202 + a*t.d212
		t.d203 = stay0*t.d203 + a*t.d213
		t.d212 = stay1*t.d212 + b*t.d222
		t.d213 = stay1*t.d213 + b*t.d223
		t.d222 = stay2*t.d222 - c*t.p22
		t.d223 = stay2*t.d223 + c*(t.p33-t.p23)
	}
	t.p00 *= stay0
	t.p01 = stay0*t.p01 + a*t.p11
	t.p02 = stay0*t.p02 + a*t.p12
	t.p03 = stay0*t.p03 + a*t.p13
	t.p11 *= stay1
	t.p12 = stay1*t.p12 + b*t.p22
	t.p13 = stay1*t.p13 + b*t.p23
	t.p22 *= stay2
	t.p23 = stay2*t.p23 + c*t.p33
	t.p33 *= stay3
}

func (x *oneWay4) add(t *oneWay4, derivatives bool) {
	x.p00 += t.p00
	x.p01 += t.p01
	x.p02 += t.p02
	x.p03 += t.p03
	x.p11 += t.p11
	x.p12 += t.p12
	x.p13 += t.p13
	x.p22 += t.p22
	x.p23 += t.p23
	x.p33 += t.p33
	if !derivatives {
		return
	}
	x.d000 += t.d000
	x.d001 += t.d001
	x.d002 += t.d002
	x.d003 += t.d003
	x.d101 += t.d101
	x.d102 += t.d102
	x.d103 += t.d103
	x.d111 += t.d111
	x.d112 += t.d112
	x.d113 += t.d113
	x.d202 += t.d202
	x.d203 += t.d203
	x.d212 += t.d212
	x.d213 += t.d213
	x.d222 += t.d222
	x.d223 += t.d223
}

// square replaces P by P², and the derivatives D by DP + PD.
func (x *oneWay4) square(derivatives bool) {
	if derivatives {
		x.d003 = x.d000*x.p03 + x.d001*x.p13 + x.d002*x.p23 + x.d003*(x.p33+x.p00)
		x.d002 = x.d000*x.p02 + x.d001*x.p12 + x.d002*(x.p22+x.p00)
		x.d001 = x.d000*x.p01 + x.d001*(x.p11+x.p00)
		x.d000 *= 2 * x.p00
		x.d103 = x.d101*x.p13 + x.d102*x.p23 + x.d103*(x.p33+x.p00) + x.p01*x.d113
		x.d102 = x.d101*x.p12 + x.d102*(x.p22+x.p00) + x.p01*x.d112
		x.d101 = x.d101*(x.p11+x.p00) + x.p01*x.d111
		x.d113 = x.d111*x.p13 + x.d112*x.p23 + x.d113*(x.p33+x.p11)
		x.d112 = x.d111*x.p12 + x.d112*(x.p22+x.p11)
		x.d111 *= 2 * x.p11
		x.d203 = x.d202*x.p23 + x.d203*(x.p33+x.p00) + x.p01*x.d213 + x.p02*x.d223
		x.d202 = x.d202*(x.p22+x.p00) + x.p01*x.d212 + x.p02*x.d222
		x.d213 = x.d212*x.p23 + x.d213*(x.p33+x.p11) + x.p12*x.d223
		x.d212 = x.d212*(x.p22+x.p11) + x.p12*x.d222
		x.d223 = x.d222*x.p23 + x.d223*(x.p33+x.p22)
		x.d222 *= 2 * x.p22
	}
	x.p03 = x.p03*(x.p00+x.p33) + x.p01*x.p13 + x.p02*x.p23
	x.p02 = x.p02*(x.p00+x.p22) + x.p01*x.p12
	x.p01 *= x.p00 + x.p11
	x.p13 = x.p13*(x.p11+x.p33) + x.p12*x.p23
	x.p12 *= x.p11 + x.p22
	x.p23 *= x.p22 + x.p33
	x.p00 *= x.p00
	x.p11 *= x.p11
	x.p22 *= x.p22
	x.p33 *= x.p33
}

// write copies the probabilities, row by row, and the derivatives if dp is not
// nil.
func (x *oneWay4) write(p, dp []float64) {
	copy(p, []float64{x.p00, x.p01, x.p02, x.p03, 0, x.p11, x.p12, x.p13, 0, 0, x.p22, x.p23, 0, 0, 0, x.p33})
	if dp == nil {
		return
	}
	copy(dp, []float64{
		x.d000, x.d001, x.d002, x.d003, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
		0, x.d101, x.d102, x.d103, 0, x.d111, x.d112, x.d113, 0, 0, 0, 0, 0, 0, 0, 0,
		0, 0, x.d202, x.d203, 0, 0, x.d212, x.d213, 0, 0, x.d222, x.d223, 0, 0, 0, 0,
	})
}
