package markov

import (
	"math"
	"runtime"
	"sync"
)

// evaluator computes the log-likelihood of a panel,
//
//	Σ_lives log Σ_g π_g exp( Σ_intervals w Σ_ij s_ij log P_ij(z_g Δt) )
//
// where each life has a pace of its own (see site for those that share it), and
// its gradient, in three passes: the table of log P at each step and pace;
// each life's sum and its weights on the paces, by which its flows are added up
// to counts in the shape of the table; and the derivative of Σ counts · log P,
// which by Fisher's identity is that of the log-likelihood. So the derivatives
// of P are worked once a step, not once an interval.
//
// Lives and steps are cut into blocks by their index, and the blocks' results
// are added up in order, so the answer doesn't depend on how many processors
// work on it.
type evaluator struct {
	p *Panel
	d *design
	w float64
	// probability that a new seal keeps the pace of the one before it
	siteShare float64
	withShare bool // siteShare is estimated
	best      optimum
	grid      Pace
	logPi     []float64 // log of the grid's prior
	dLogZ     []float64 // derivative of log z and log π by log k
	dLogP     []float64
	h         *hidden // ratings with errors in place of spans; nil without

	table  []float64   // log of each entry: step, entry, pace
	blocks []lifeBlock // one for each block of lives
}

// lifeBlock is the result of one block of lives.
type lifeBlock struct {
	counts  []float64 // as the table
	byPace  []float64 // summed weights on each pace newly drawn, and then of replaced starts
	ratings []float64 // expected number of ratings by true state; hidden chains only
	value   float64
	scratch lifeScratch
}

type lifeScratch struct {
	sum, post, one, two, ratio []float64 // by pace
	starts                     []float64 // by start and pace
	hidden                     hiddenScratch
	site                       siteScratch
}

func newEvaluator(p *Panel, d *design) *evaluator { return &evaluator{p: p, d: d, w: 1} }

// setPace sets the grid to that of Gamma(k, k). Its derivatives by log k are
// taken by central differences, good to about 1e-9.
func (e *evaluator) setPace(k float64, points int) error {
	var err error
	if k == 0 {
		k = math.Inf(1)
	}
	if e.grid, err = NewPace(k, points); err != nil {
		return err
	}
	e.logPi = append(e.logPi[:0], e.grid.Prior...)
	for g, x := range e.logPi {
		e.logPi[g] = math.Log(x)
	}
	if math.IsInf(k, 1) {
		return nil
	}
	const h = 1e-4
	up, err := NewPace(k*math.Exp(h), points)
	if err != nil {
		return err
	}
	down, err := NewPace(k*math.Exp(-h), points)
	if err != nil {
		return err
	}
	n := len(e.grid.Z)
	e.dLogZ, e.dLogP = resize(e.dLogZ, n), resize(e.dLogP, n)
	for g := range n {
		e.dLogZ[g] = math.Log(up.Z[g]/down.Z[g]) / (2 * h)
		e.dLogP[g] = math.Log(up.Prior[g]/down.Prior[g]) / (2 * h)
	}
	return nil
}

// value returns the log-likelihood and writes its gradient, and if scoring is
// not nil the matrix of Kalbfleisch & Lawless (1985), J. Am. Stat. Assoc. 80:863,
// equation 3.6, with the expected flows put for the observed ones:
//
//	Σ counts_ij · (∂ log P_ij/∂θ)(∂ log P_ij/∂θ)'
func (e *evaluator) value(theta, gradient, scoring []float64) float64 {
	e.fillTable(theta)
	blocks := e.sumLives()
	total := blocks[0]
	for _, b := range blocks[1:] {
		total.value += b.value
		addTo(total.counts, b.counts)
		addTo(total.byPace, b.byPace)
		addTo(total.ratings, b.ratings)
	}
	e.gradient(theta, gradient, scoring, total.counts)
	if e.d.logK >= 0 {
		e.addByLogK(gradient, total.byPace)
	}
	if e.h != nil {
		e.h.addGradient(gradient, scoring, total.ratings)
	}
	return total.value
}

// addByLogK adds the derivative of the priors of the paces by log k.
func (e *evaluator) addByLogK(gradient, byPace []float64) {
	drawn, replaced := byPace[:len(e.grid.Z)], byPace[len(e.grid.Z):]
	for g, n := range drawn {
		gradient[e.d.logK] += n * e.dLogP[g]
	}
	for g, n := range replaced {
		gradient[e.d.logK] += n * e.dLogStart(g)
	}
}

func addTo(dst, src []float64) {
	for i, x := range src {
		dst[i] += x
	}
}

// parallel runs work on the blocks 0..n-1 on all processors.
func parallel(n int, work func(block int)) {
	var next int
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for {
				mu.Lock()
				b := next
				next++
				mu.Unlock()
				if b >= n {
					return
				}
				work(b)
			}
		})
	}
	wg.Wait()
}

// stepBlocks is the number of blocks that the steps are cut into.
const stepBlocks = 64

func (e *evaluator) stepRange(block int) (first, last int) {
	n := len(e.p.steps)
	return n * block / stepBlocks, n * (block + 1) / stepBlocks
}

func (e *evaluator) fillTable(theta []float64) {
	if e.h != nil {
		e.h.setErrors(theta)
	}
	p, paces, entries := e.p, len(e.grid.Z), len(e.p.entries)
	e.table = resize(e.table, len(p.steps)*entries*paces)
	if e.h != nil {
		e.h.prob = resize(e.h.prob, len(e.table))
	}
	parallel(stepBlocks, func(block int) {
		var x expm
		x.init(p.moves, p.n, p.moves.OneWay())
		var prob [MaxStates * MaxStates]float64
		var rates [maxMoves]float64
		first, last := e.stepRange(block)
		for s := first; s < last; s++ {
			e.d.rates(rates[:], theta, p.x(s))
			for g, z := range e.grid.Z {
				x.exp(prob[:p.n*p.n], rates[:len(p.moves)], z*p.steps[s].years)
				for i, code := range p.entries {
					at, value := (s*entries+i)*paces+g, max(p.entryValue(int(code), prob[:], rates[:], z), 1e-300)
					e.table[at] = math.Log(value)
					if e.h != nil {
						e.h.prob[at] = value
					}
				}
			}
		}
	})
}

// entryValue is the probability or density that an entry stands for, at pace z:
//
//	P_ij,   Σ_{m<d} P_im z q_md (failing at the end),   1 − P_id (not yet failed)
func (p *Panel) entryValue(code int, prob, rates []float64, z float64) float64 {
	nn := p.n * p.n
	switch {
	case code < nn:
		return prob[code]
	case code < nn+p.n:
		i, density := code-nn, 0.0
		for m, v := range p.moves {
			if v.To == p.n-1 {
				density += prob[i*p.n+v.From] * z * rates[m]
			}
		}
		return density
	}
	i, survived := code-nn-p.n, 0.0
	for j := range p.n - 1 {
		survived += prob[i*p.n+j]
	}
	return survived
}

// entryDerivatives writes the derivatives of an entry by each log rate.
func (p *Panel) entryDerivatives(dst []float64, code int, prob, dProb, rates []float64, z float64) {
	nn := p.n * p.n
	for m := range p.moves {
		dp := dProb[m*nn : (m+1)*nn]
		dst[m] = p.entryValue(code, dp, rates, z)
		if v := p.moves[m]; code >= nn && code < nn+p.n && v.To == p.n-1 {
			dst[m] += prob[(code-nn)*p.n+v.From] * z * rates[m]
		}
	}
}

// sumLives fills the blocks: a number that depends on the data alone, so that
// the counts of all stay under about 256 MB.
func (e *evaluator) sumLives() []lifeBlock {
	size := len(e.table)
	n := min(max(1<<25/max(size, 1), 2), 32, max(len(e.p.lives)/64, 1))
	if len(e.blocks) != n {
		e.blocks = make([]lifeBlock, n)
	}
	parallel(n, func(block int) {
		b := &e.blocks[block]
		b.counts, b.byPace = resize(b.counts, size), resize(b.byPace, 2*len(e.grid.Z))
		clear(b.counts)
		clear(b.byPace)
		b.ratings = resize(b.ratings, e.p.n*e.p.n)
		clear(b.ratings)
		b.value = 0
		paces, entries := len(e.grid.Z), len(e.p.entries)
		emit := func(step int32, entry uint8, share float64, weights []float64) {
			at := (int(step)*entries + int(entry)) * paces
			counts := b.counts[at : at+paces]
			for g, x := range weights {
				counts[g] += share * x
			}
		}
		for l, last := e.p.siteRange(block, n); l < last; {
			value, lives := e.site(l, &b.scratch, b.byPace, b.ratings, emit, nil)
			b.value += value
			l += lives
		}
	})
	return e.blocks
}

// life returns the log-likelihood of one life for a prior of its pace, and that
// of having come on record; it leaves the weights of the paces in s.post, and
// emits the life's flows with them.
func (e *evaluator) life(l int, s *lifeScratch, logPrior, byPace, ratings []float64,
	emit emitter,
) (value, record float64) {
	if e.h != nil {
		return e.h.life(e, l, s, logPrior, byPace, ratings, emit)
	}
	p, paces := e.p, len(e.grid.Z)
	s.sum, s.post, s.one = resize(s.sum, paces), resize(s.post, paces), resize(s.one, paces)
	v := &p.lives[l]
	lastSpan, lastMixed := len(p.spans), len(p.mixed)
	if l+1 < len(p.lives) {
		lastSpan, lastMixed = int(p.lives[l+1].firstSpan), int(p.lives[l+1].firstMixed)
	}
	for g := range s.sum {
		s.sum[g] = 0
	}
	for i := int(v.firstSpan); i < lastSpan; i++ {
		first, last := p.flows(i)
		for f := first; f < last; f++ {
			row := e.row(p.spans[i].step, p.flowEntry[f])
			share := e.w * p.flowShare[f]
			for g, x := range row {
				s.sum[g] += share * x
			}
		}
	}
	for i := int(v.firstMixed); i < lastMixed; i++ {
		e.mixture(&p.mixed[i], s, nil)
	}
	value, record = e.close(v, s, logPrior, byPace, emit)
	for i := int(v.firstSpan); i < lastSpan; i++ {
		first, last := p.flows(i)
		for f := first; f < last; f++ {
			emit(p.spans[i].step, p.flowEntry[f], e.w*p.flowShare[f], s.post)
		}
	}
	for i := int(v.firstMixed); i < lastMixed; i++ {
		e.mixture(&p.mixed[i], s, emit)
	}
	return value, record
}

func (p *Panel) flows(span int) (first, last int) {
	last = len(p.flowEntry)
	if span+1 < len(p.spans) {
		last = int(p.spans[span+1].firstFlow)
	}
	return int(p.spans[span].firstFlow), last
}

func (e *evaluator) row(step int32, entry uint8) []float64 {
	paces := len(e.grid.Z)
	at := (int(step)*len(e.p.entries) + int(entry)) * paces
	return e.table[at : at+paces]
}

// stepDerivatives are the derivatives of the logarithm of each entry at one
// step and pace.
type stepDerivatives struct {
	x           expm
	prob, dProb []float64
	rates       []float64
	d           []float64 // by entry and move
}

func newStepDerivatives(p *Panel) *stepDerivatives {
	nn := p.n * p.n
	s := &stepDerivatives{
		prob: make([]float64, nn), dProb: make([]float64, nn*len(p.moves)),
		rates: make([]float64, len(p.moves)), d: make([]float64, len(p.entries)*len(p.moves)),
	}
	s.x.init(p.moves, p.n, p.moves.OneWay())
	return s
}

func (s *stepDerivatives) at(p *Panel, years, z float64) {
	s.x.expDerivatives(s.prob, s.dProb, s.rates, z*years)
	moves := len(p.moves)
	for i, code := range p.entries {
		d := s.d[i*moves : (i+1)*moves]
		p.entryDerivatives(d, int(code), s.prob, s.dProb, s.rates, z)
		value := max(p.entryValue(int(code), s.prob, s.rates, z), 1e-300)
		for m := range d {
			d[m] /= value
		}
	}
}

// gradient writes the derivative of Σ counts · log entry, and the scoring
// matrix.
func (e *evaluator) gradient(theta, gradient, scoring, counts []float64) {
	params := e.d.params
	size := params
	if scoring != nil {
		size += params * params
	}
	sums := make([]float64, stepBlocks*size)
	parallel(stepBlocks, func(block int) {
		first, last := e.stepRange(block)
		if first == last {
			return
		}
		sum := sums[block*size : (block+1)*size]
		e.gradientBlock(theta, sum[:params], sum[params:], counts, first, last)
	})
	clear(gradient)
	clear(scoring)
	for b := range stepBlocks {
		sum := sums[b*size : (b+1)*size]
		addTo(gradient, sum[:params])
		addTo(scoring, sum[params:])
	}
}

func (e *evaluator) gradientBlock(theta, gradient, scoring, counts []float64, first, last int) {
	p, moves, entries, paces := e.p, len(e.p.moves), len(e.p.entries), len(e.grid.Z)
	s := newStepDerivatives(p)
	byMove, row := make([]float64, moves), make([]float64, e.d.params)
	for at := first; at < last; at++ {
		step := p.steps[at]
		e.d.rates(s.rates, theta, p.x(at))
		clear(byMove)
		for g, z := range e.grid.Z {
			s.at(p, step.years, z)
			byZ := 0.0
			for i := range entries {
				c := counts[(at*entries+i)*paces+g]
				if c == 0 {
					continue
				}
				d := s.d[i*moves : (i+1)*moves]
				for m, x := range d {
					byMove[m] += c * x
					byZ += c * x
				}
				if len(scoring) > 0 && c > 0 {
					clear(row)
					e.d.addGradient(row, d, p.x(at))
					addOuter(scoring, row, c)
				}
			}
			if e.d.logK >= 0 {
				gradient[e.d.logK] += byZ * e.dLogZ[g]
			}
		}
		e.d.addGradient(gradient, byMove, p.x(at))
	}
}

// addOuter adds c·row·row' to a square matrix.
func addOuter(dst, row []float64, c float64) {
	n := len(row)
	for i, x := range row {
		if x == 0 {
			continue
		}
		for j, y := range row {
			dst[i*n+j] += c * x * y
		}
	}
}
