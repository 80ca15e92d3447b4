package markov

import "math"

// hiddenScratch holds the forward probabilities of the tracks of one life, and
// the room for the backward ones, with the paces innermost.
type hiddenScratch struct {
	forward       []float64 // track by track: rating, state, pace
	before, ahead []float64 // state, pace
	total, row    []float64 // pace
}

// life is the log-likelihood of one life,
//
//	log Σ_a Σ_g π_a π_g exp( Σ_tracks w s_track log p(ratings of the track | a, z_g) )
//
// over its possible beginnings a and paces z_g of the prior given, each track by the forward
// algorithm, and its expected flows by the backward one (Baum et al. 1970, Ann.
// Math. Stat. 41:164; Jackson et al. 2003, The Statistician 52:193, for panels).
// It leaves the weights of the paces in s.post, and adds to ratings.
func (h *hidden) life(e *evaluator, l int, s *lifeScratch, logPrior, byPace, ratings []float64, emit emitter) (value, record float64) {
	v, paces := &e.p.lives[l], len(e.grid.Z)
	last := len(h.r.tracks)
	if l+1 < len(h.r.first) {
		last = int(h.r.first[l+1])
	}
	tracks := h.r.tracks[h.r.first[l]:last]
	begins := max(len(v.start), 1)
	s.sum, s.post, s.starts = resize(s.sum, paces), resize(s.post, paces), resize(s.starts, begins*paces)
	x := &s.hidden
	x.row = resize(x.row, paces)
	x.forward = x.forward[:0]
	copy(s.sum, logPrior)
	clear(s.starts)
	for i := range tracks {
		h.forward(e, &tracks[i], x)
		to := s.sum
		if a := int(tracks[i].start); a >= 0 {
			to = s.starts[a*paces : (a+1)*paces]
		}
		for g, logP := range x.row {
			to[g] += e.w * tracks[i].share * logP
		}
	}
	for a := range begins {
		for g := range paces {
			s.starts[a*paces+g] += s.sum[g]
			if len(v.start) > 0 {
				s.starts[a*paces+g] += e.logStart(v.start[a], g)
			}
		}
	}
	value = normaliseLogs(s.starts)
	clear(s.post)
	for a := range begins {
		row := s.starts[a*paces : (a+1)*paces]
		addTo(s.post, row)
		if byPace != nil && len(v.start) > 0 && v.start[a].replaced {
			addTo(byPace[paces:], row)
		}
	}
	at := 0
	for i := range tracks {
		if ratings == nil { // nobody asks for the flows
			break
		}
		weights := s.post
		if a := int(tracks[i].start); a >= 0 {
			weights = s.starts[a*paces : (a+1)*paces]
		}
		size := int(tracks[i].last-tracks[i].first) * e.p.n * paces
		h.backward(e, &tracks[i], x, x.forward[at:at+size], weights, ratings, emit)
		at += size
	}
	if v.conditioned {
		record = e.onRecord(v, s, byPace, emit)
	}
	return value, record
}

// forward appends the forward probabilities of a track, scaled to add up to 1
// at each rating, and leaves the logarithm of its probability at each pace in
// x.row.
func (h *hidden) forward(e *evaluator, k *track, x *hiddenScratch) {
	n, paces := e.p.n, len(e.grid.Z)
	clear(x.row)
	for t := k.first; t < k.last; t++ {
		at := len(x.forward)
		x.forward = append(x.forward, make([]float64, n*paces)...)
		now := x.forward[at:]
		v := h.r.ratings[t]
		if t == k.first {
			h.first(e, now, v, k.certain || h.errors.FirstTrue)
		} else {
			before := x.forward[at-n*paces : at]
			for j := range n {
				to := now[j*paces : (j+1)*paces]
				for i := range n {
					h.pass(e, to, before[i*paces:(i+1)*paces], v, i, j)
				}
			}
		}
		for g := range paces {
			sum := 0.0
			for j := range n {
				sum += now[j*paces+g]
			}
			if !(sum > 0) {
				x.row[g] = math.Inf(-1)
				continue
			}
			for j := range n {
				now[j*paces+g] /= sum
			}
			x.row[g] += math.Log(sum)
		}
	}
}

func (h *hidden) first(e *evaluator, dst []float64, v rating, certain bool) {
	n, paces := e.p.n, len(e.grid.Z)
	for j := range n {
		p := h.initial[j] * h.seen[j*n+int(v.state)]
		if certain {
			p = 0
			if j == int(v.state) {
				p = 1
			}
		}
		for g := range paces {
			dst[j*paces+g] = p
		}
	}
}

// pass adds to dst what passes from state i to j and is rated as was seen.
func (h *hidden) pass(e *evaluator, dst, from []float64, v rating, i, j int) {
	row, rated := h.passing(e, v, i, j)
	if rated == 0 {
		return
	}
	for g, p := range row {
		dst[g] += from[g] * p * rated
	}
}

// passing is the probability at each pace of passing from state i to j, and
// that of being rated then as was seen. What is seen without error, a failure
// or that there was none, stands at j = 0.
func (h *hidden) passing(e *evaluator, v rating, i, j int) (row []float64, rated float64) {
	code := h.code(e.p, v, i, j)
	if code < 0 {
		return nil, 0
	}
	rated = 1
	if v.seen == Inspected {
		if rated = h.seen[j*e.p.n+int(v.state)]; rated == 0 {
			return nil, 0
		}
	}
	paces := len(e.grid.Z)
	at := (int(v.step)*len(e.p.entries) + int(e.p.entryOf[code]-1)) * paces
	return h.prob[at : at+paces], rated
}

// code is the table entry of passing from i to j, or -1.
func (h *hidden) code(p *Panel, v rating, i, j int) int {
	switch {
	case v.seen == Inspected && p.reach[i*p.n+j], v.seen == onRecord && j < p.n-1 && p.reach[i*p.n+j]:
		return i*p.n + j
	case v.seen == Inspected || v.seen == onRecord || j > 0 || i == p.n-1:
		return -1
	case v.seen == FailedThen:
		return p.failedCode(i)
	}
	return p.survivedCode(i)
}

// backward emits the expected flows of a track, and adds its expected ratings,
// given the weights of the paces.
func (h *hidden) backward(e *evaluator, k *track, x *hiddenScratch, forward, weights, ratings []float64,
	emit emitter,
) {
	n, paces := e.p.n, len(e.grid.Z)
	share := e.w * k.share
	size := n * paces
	x.before, x.ahead, x.total = resize(x.before, size), resize(x.ahead, size), resize(x.total, paces)
	for i := range x.ahead {
		x.ahead[i] = 1
	}
	for t := k.last - 1; t > k.first; t-- {
		v := h.r.ratings[t]
		alpha := forward[int(t-1-k.first)*size : int(t-k.first)*size]
		clear(x.before)
		for i := range n {
			for j := range n {
				h.pass(e, x.before[i*paces:(i+1)*paces], x.ahead[j*paces:(j+1)*paces], v, i, j)
			}
		}
		h.scale(alpha, x, paces)
		for i := range n {
			for j := range n {
				row, rated := h.passing(e, v, i, j)
				if rated == 0 {
					continue
				}
				sum := 0.0
				for g, p := range row {
					y := alpha[i*paces+g] * p * rated * x.ahead[j*paces+g] * x.total[g] * weights[g]
					x.row[g] = y
					sum += y
				}
				if sum == 0 {
					continue
				}
				emit(v.step, e.p.entryOf[h.code(e.p, v, i, j)]-1, share, x.row)
				if v.seen == Inspected {
					ratings[j*n+int(v.state)] += share * sum
				}
			}
		}
		for i := range x.before {
			x.ahead[i] = x.before[i] * x.total[i%paces]
		}
	}
	if k.certain || h.errors.FirstTrue {
		return
	}
	copy(x.before, x.ahead)
	h.scale(forward[:size], x, paces)
	for j := range n {
		for g := range paces {
			ratings[j*n+int(h.r.ratings[k.first].state)] += share * weights[g] * forward[j*paces+g] * x.ahead[j*paces+g] * x.total[g]
		}
	}
}

// scale writes to x.total one over the probability of all that was seen, up to
// a factor, at each pace; 0 where it is impossible.
func (h *hidden) scale(alpha []float64, x *hiddenScratch, paces int) {
	clear(x.total)
	for i, a := range alpha {
		x.total[i%paces] += a * x.before[i]
	}
	for g, t := range x.total {
		if t > 0 {
			x.total[g] = 1 / t
		}
	}
}
