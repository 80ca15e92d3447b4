package markov

import "math"

// expm computes P(t) = exp(Qt), and its derivatives by the rates, for small
// chains.
//
// The method is uniformisation with scaling and squaring: with λ the largest
// exit rate and h = t/2^s such that λh ≤ 1/2,
//
//	exp(Qh) = e^(-λh) Σ_k (h(Q + λI))^k / k!,   P(t) = exp(Qh)^(2^s)
//
// Every term and every product is of non-negative numbers, so no digits cancel
// and each entry, however small, keeps its relative accuracy: the likelihood
// takes logarithms of entries such as P14 after a month. It also needs no case
// for equal rates, where the textbook closed form of the one-way chain divides
// 0 by 0. Sources: Jensen (1953), Skand. Aktuarietidskr. 36:87; Moler & Van
// Loan (2003), Nineteen dubious ways to compute the exponential of a matrix,
// SIAM Review 45:3, methods 1 and 3.
//
// For one-way chains only the upper triangle is worked, which makes it about
// as fast as the closed form.
type expm struct {
	moves  Moves
	n      int
	upper  bool
	a, b   [MaxStates * MaxStates]float64
	da, db []float64 // derivative of a and b by each rate, one matrix after the other
}

// terms is the order of the series. The first term left out is 0.5^16/16! =
// 7e-19.
const terms = 15

func (e *expm) init(moves Moves, n int, upper bool) {
	e.moves, e.n, e.upper = moves, n, upper
}

// scale chooses the uniformisation rate and the number of squarings.
func (e *expm) scale(rates []float64, t float64) (lambdaH, h float64, squarings int) {
	var exit [MaxStates]float64
	lambda := 0.0
	for i, v := range e.moves {
		exit[v.From] += rates[i]
		lambda = max(lambda, exit[v.From])
	}
	h = max(t, 0)
	if x := lambda * h; x > 0.5 {
		_, squarings = math.Frexp(2 * x)
		h = math.Ldexp(h, -squarings)
	}
	return lambda * h, h, squarings
}

// exp writes exp(Qt) to p.
func (e *expm) exp(p, rates []float64, t float64) {
	n := e.n
	lambdaH, h, squarings := e.scale(rates, t)
	term, next := e.a[:n*n], e.b[:n*n]
	e.start(p, term, lambdaH)
	for k := 1; k <= terms && lambdaH > 0; k++ {
		e.step(next, term, rates, lambdaH, h, 1/float64(k))
		for i, x := range next {
			p[i] += x
		}
		term, next = next, term
	}
	for range squarings {
		e.multiply(next, p, p)
		copy(p, next)
	}
}

// start sets p and term to e^(-λh) times the identity.
func (e *expm) start(p, term []float64, lambdaH float64) {
	clear(p[:e.n*e.n])
	clear(term)
	x := math.Exp(-lambdaH)
	for i := range e.n {
		p[i*e.n+i], term[i*e.n+i] = x, x
	}
}

// step sets next to h(Q + λI)·term/k. Rows of term are rows of Q's powers, so
// each move adds a multiple of one row to another.
func (e *expm) step(next, term, rates []float64, lambdaH, h, perK float64) {
	n := e.n
	var stay [MaxStates]float64
	for i := range n {
		stay[i] = lambdaH
	}
	for m, v := range e.moves {
		stay[v.From] -= h * rates[m]
	}
	for i := range n {
		// Rounding can leave -1e-17 where the largest exit rate is subtracted.
		s := max(stay[i], 0) * perK
		for j := e.first(i); j < n; j++ {
			next[i*n+j] = s * term[i*n+j]
		}
	}
	for m, v := range e.moves {
		q := h * rates[m] * perK
		for j := e.first(v.To); j < n; j++ {
			next[v.From*n+j] += q * term[v.To*n+j]
		}
	}
}

// first is the first column of row i that can differ from 0.
func (e *expm) first(i int) int {
	if e.upper {
		return i
	}
	return 0
}

// multiply sets dst to x·y.
func (e *expm) multiply(dst, x, y []float64) {
	clear(dst)
	e.addProduct(dst, x, y)
}

func (e *expm) addProduct(dst, x, y []float64) {
	n := e.n
	for i := range n {
		row := dst[i*n : i*n+n]
		for k := e.first(i); k < n; k++ {
			f := x[i*n+k]
			if f == 0 {
				continue
			}
			for j := e.first(k); j < n; j++ {
				row[j] += f * y[k*n+j]
			}
		}
	}
}
