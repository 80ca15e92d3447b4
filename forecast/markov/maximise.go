package markov

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// objective is a function to maximise: it returns its value and writes its
// gradient, and if asked a positive definite stand-in for minus its Hessian.
type objective func(theta, gradient, curvature []float64) float64

// optimum is what maximise found.
type optimum struct {
	theta, gradient []float64
	value           float64
	hessian         *mat.SymDense // minus the second derivatives at theta
	evaluations     int
	converged       bool
}

const (
	maxIterations = 200
	longestStep   = 2.0  // of any parameter at once: a factor of 7 in a rate
	closeEnough   = 1e-9 // expected gain, in units of log-likelihood, of one more step
)

// maximise finds a local maximum from theta. Far from it each step is one of
// scoring, with the curvature the objective offers; near it the curvature is
// brought up to date by the BFGS formula (Nocedal & Wright 2006, Numerical
// Optimization, chapter 6); at the end come Newton steps with the Hessian from
// central differences of the gradient, which is also the observed information.
// Convergence is judged by that Hessian: positive definite, and no gain left.
func maximise(f objective, theta []float64) optimum {
	n := len(theta)
	o := optimum{theta: append([]float64(nil), theta...), gradient: make([]float64, n)}
	curvature := make([]float64, n*n)
	eval := func(theta, gradient, curvature []float64) float64 {
		o.evaluations++
		return f(theta, gradient, curvature)
	}
	o.value = eval(o.theta, o.gradient, curvature)
	h := symmetric(curvature, n)
	next := &optimum{theta: make([]float64, n), gradient: make([]float64, n)}
	for range maxIterations {
		step, gain := newtonStep(h, o.gradient)
		if gain < closeEnough {
			break
		}
		moved, ok := lineSearch(eval, &o, next, step, curvature)
		if !ok {
			break
		}
		if next.value-o.value > 1 {
			h = symmetric(curvature, n)
		} else {
			updateBFGS(h, moved, o.gradient, next.gradient)
		}
		o.theta, next.theta = next.theta, o.theta
		o.gradient, next.gradient = next.gradient, o.gradient
		o.value = next.value
	}
	o.polish(eval, next)
	return o
}

// climb goes from theta, which is next to a maximum, up to it with a Hessian found
// near by, which the BFGS formula brings up to date. It is false where that
// doesn't lead there.
func climb(f objective, theta []float64, near *mat.SymDense) (o optimum, ok bool) {
	n := len(theta)
	o = optimum{theta: append([]float64(nil), theta...), gradient: make([]float64, n), hessian: mat.NewSymDense(n, nil)}
	if near == nil {
		return o, false
	}
	o.hessian.CopySym(near)
	eval := func(theta, gradient, _ []float64) float64 { return f(theta, gradient, nil) }
	o.value = eval(o.theta, o.gradient, nil)
	next := &optimum{theta: make([]float64, n), gradient: make([]float64, n)}
	for range 10 {
		step, gain := newtonStep(o.hessian, o.gradient)
		if gain < 1e-6 {
			return o, true
		}
		moved, ok := lineSearch(eval, &o, next, step, nil)
		if !ok {
			return o, false
		}
		updateBFGS(o.hessian, moved, o.gradient, next.gradient)
		o.theta, next.theta = next.theta, o.theta
		o.gradient, next.gradient = next.gradient, o.gradient
		o.value = next.value
	}
	return o, false
}

// polish takes Newton steps. The Hessian is computed again only where the step
// was long enough for it to have changed.
func (o *optimum) polish(eval objective, next *optimum) {
	stale := true
	for range 8 {
		if stale {
			o.hessian = differenceHessian(eval, o.theta)
			var chol mat.Cholesky
			if !chol.Factorize(o.hessian) {
				return
			}
		}
		step, gain := newtonStep(o.hessian, o.gradient)
		o.converged = gain < 1e-6
		if gain < closeEnough*1e-3 {
			return
		}
		if _, ok := lineSearch(eval, o, next, step, nil); !ok {
			return
		}
		stale = gain > 1e-5
		o.theta, next.theta = next.theta, o.theta
		o.gradient, next.gradient = next.gradient, o.gradient
		o.value = next.value
	}
}

func symmetric(a []float64, n int) *mat.SymDense {
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, (a[i*n+j]+a[j*n+i])/2)
		}
	}
	return s
}

// newtonStep solves h·step = gradient, with a ridge where h is not positive
// definite, and returns the gain that a quadratic would have from it.
func newtonStep(h *mat.SymDense, gradient []float64) (step []float64, gain float64) {
	n := len(gradient)
	var chol mat.Cholesky
	for ridge := 0.0; !chol.Factorize(h); ridge = max(4*ridge, 1e-6) {
		for i := range n {
			h.SetSym(i, i, h.At(i, i)*(1+ridge)+ridge)
		}
		if ridge > 1e12 {
			return make([]float64, n), 0
		}
	}
	x := mat.NewVecDense(n, nil)
	if err := chol.SolveVecTo(x, mat.NewVecDense(n, gradient)); err != nil && chol.Cond() > 1e15 {
		return make([]float64, n), 0
	}
	step = x.RawVector().Data
	long := 0.0
	for i, s := range step {
		gain += s * gradient[i] / 2
		long = max(long, math.Abs(s))
	}
	if long > longestStep {
		for i := range step {
			step[i] *= longestStep / long
		}
	}
	return step, gain
}

// lineSearch halves the step until the value rises enough; it fills next and
// the curvature there, and returns the step taken.
func lineSearch(eval objective, o, next *optimum, step, curvature []float64) ([]float64, bool) {
	slope := 0.0
	for i, s := range step {
		slope += s * o.gradient[i]
	}
	noise := 1e-13 * math.Abs(o.value) // of a sum of so many terms
	for range 40 {
		for i, s := range step {
			next.theta[i] = o.theta[i] + s
		}
		next.value = eval(next.theta, next.gradient, curvature)
		if next.value >= o.value+1e-4*slope-noise && !math.IsInf(next.value, 0) {
			return step, true
		}
		for i := range step {
			step[i] /= 2
		}
		slope /= 2
	}
	return step, false
}

// updateBFGS brings h, minus the Hessian, up to date after a step s that
// changed the gradient: with y = g_before − g_after,
//
//	h += y y'/(y's) − (h s)(h s)'/(s'h s)
func updateBFGS(h *mat.SymDense, s, before, after []float64) {
	n := len(s)
	y := make([]float64, n)
	ys := 0.0
	for i := range y {
		y[i] = before[i] - after[i]
		ys += y[i] * s[i]
	}
	v := mat.NewVecDense(n, s)
	var hs mat.VecDense
	hs.MulVec(h, v)
	shs := mat.Dot(v, &hs)
	if ys < 1e-3*shs || shs <= 0 {
		return // not concave along the step
	}
	h.SymRankOne(h, 1/ys, mat.NewVecDense(n, y))
	h.SymRankOne(h, -1/shs, &hs)
}

// differenceHessian is minus the Hessian, from central differences of the
// gradient.
func differenceHessian(eval objective, theta []float64) *mat.SymDense {
	n := len(theta)
	const step = 1e-4
	a := make([]float64, n*n)
	at, up, down := append([]float64(nil), theta...), make([]float64, n), make([]float64, n)
	for i := range n {
		at[i] = theta[i] + step
		eval(at, up, nil)
		at[i] = theta[i] - step
		eval(at, down, nil)
		at[i] = theta[i]
		for j := range n {
			a[i*n+j] = (down[j] - up[j]) / (2 * step)
		}
	}
	return symmetric(a, n)
}

// solve returns the inverse of the Hessian times x; nothing of each where that is
// not positive definite.
func (o *optimum) solve(x []float64) []float64 {
	y := mat.NewVecDense(len(x), nil)
	var chol mat.Cholesky
	if !chol.Factorize(o.hessian) || chol.SolveVecTo(y, mat.NewVecDense(len(x), x)) != nil {
		return make([]float64, len(x))
	}
	return y.RawVector().Data
}
