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
type expm struct {
	moves  Moves
	n      int
	upper  bool // one-way: only the upper triangle is worked
	four   bool // one-way of four states: see oneWay4
	a, b   [MaxStates * MaxStates]float64
	da, db []float64 // the same for the derivatives, one matrix for each move
}

func (e *expm) init(moves Moves, n int, upper bool) {
	e.moves, e.n, e.upper, e.four = moves, n, upper, isOneWay4(moves)
}

// series is the scaled step of one exponential.
type series struct {
	lambdaH   float64            // λh
	squarings int                // s
	rate      [maxMoves]float64  // h·q of each move
	stay      [MaxStates]float64 // λh − h·(exit rate) of each state
}

const maxMoves = MaxStates * (MaxStates - 1)

func (e *expm) scale(s *series, rates []float64, t float64) {
	var exit [MaxStates]float64
	lambda := 0.0
	for i, v := range e.moves {
		exit[v.From] += rates[i]
		lambda = max(lambda, exit[v.From])
	}
	h := max(t, 0)
	if x := lambda * h; x > 0.5 {
		_, s.squarings = math.Frexp(2 * x)
		h = math.Ldexp(h, -s.squarings)
	}
	s.lambdaH = lambda * h
	for i := range e.moves {
		s.rate[i] = h * rates[i]
	}
	for i := range e.n {
		s.stay[i] = max(s.lambdaH-h*exit[i], 0) // rounding can leave -1e-17
	}
}

// last reports whether the terms after the k-th are too small to count, with
// size = (λh)^k/k!. The smallest entry of interest starts with the term of
// order n-1.
func (e *expm) last(k int, size float64) bool {
	return k >= e.n && size < 1e-19 || k == 18
}

// exp writes exp(Qt) to p.
func (e *expm) exp(p, rates []float64, t float64) {
	if e.four {
		var x oneWay4
		t = max(t, 0)
		x.exp(rates[0]*t, rates[1]*t, rates[2]*t, false)
		x.write(p, nil)
		return
	}
	var s series
	e.scale(&s, rates, t)
	nn := e.n * e.n
	term, next := e.a[:nn], e.b[:nn]
	e.start(p, term, s.lambdaH)
	size := 1.0
	for k := 1; !e.last(k-1, size); k++ {
		size *= s.lambdaH / float64(k)
		e.step(next, term, &s, 1/float64(k), e.n)
		for i, x := range next {
			p[i] += x
		}
		term, next = next, term
	}
	for range s.squarings {
		clear(next)
		e.addProduct(next, p, p, e.n)
		copy(p, next)
	}
}

// expDerivatives writes exp(Qt) to p and its derivatives by the logarithm of
// each rate to dp, one matrix after the other in the order of the moves: the
// derivative of each term of the series and of each squaring,
//
//	(AB)' = A'B + AB'
func (e *expm) expDerivatives(p, dp, rates []float64, t float64) {
	if e.four {
		var x oneWay4
		t = max(t, 0)
		x.exp(rates[0]*t, rates[1]*t, rates[2]*t, true)
		x.write(p, dp)
		return
	}
	var s series
	e.scale(&s, rates, t)
	nn := e.n * e.n
	if size := nn * len(e.moves); len(e.da) < size {
		e.da, e.db = make([]float64, size), make([]float64, size)
	}
	term, next, dTerm, dNext := e.a[:nn], e.b[:nn], e.da, e.db
	e.start(p, term, s.lambdaH)
	clear(dp[:nn*len(e.moves)])
	clear(dTerm)
	size := 1.0
	for k := 1; !e.last(k-1, size); k++ {
		perK := 1 / float64(k)
		size *= s.lambdaH * perK
		e.step(next, term, &s, perK, e.n)
		for m, v := range e.moves {
			d := dNext[m*nn : (m+1)*nn]
			e.step(d, dTerm[m*nn:(m+1)*nn], &s, perK, e.rows(v))
			q := s.rate[m] * perK
			from, to := term[v.From*e.n:], term[v.To*e.n:]
			row := d[v.From*e.n : (v.From+1)*e.n]
			for j := range row {
				row[j] += q * (to[j] - from[j])
			}
			sum := dp[m*nn : (m+1)*nn]
			for i := range e.rows(v) * e.n {
				sum[i] += d[i]
			}
		}
		for i, x := range next {
			p[i] += x
		}
		term, next, dTerm, dNext = next, term, dNext, dTerm
	}
	for range s.squarings {
		for m, v := range e.moves {
			d := dp[m*nn : (m+1)*nn]
			clear(next)
			e.addProduct(next, d, p, e.rows(v))
			e.addProduct(next, p, d, e.rows(v))
			copy(d, next)
		}
		clear(next)
		e.addProduct(next, p, p, e.n)
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

// step sets the first rows of next to h(Q + λI)·term/k. Each move adds a
// multiple of one row to another.
func (e *expm) step(next, term []float64, s *series, perK float64, rows int) {
	n := e.n
	for i := range rows {
		stay := s.stay[i] * perK
		for j := e.first(i); j < n; j++ {
			next[i*n+j] = stay * term[i*n+j]
		}
	}
	for m, v := range e.moves {
		if v.From >= rows {
			continue
		}
		q := s.rate[m] * perK
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

// rows is how many rows of P can depend on the rate of the move: in a one-way
// chain only those of its own and of better states.
func (e *expm) rows(v Move) int {
	if e.upper {
		return v.From + 1
	}
	return e.n
}

// addProduct adds the first rows of x·y to dst.
func (e *expm) addProduct(dst, x, y []float64, rows int) {
	n := e.n
	for i := range rows {
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
