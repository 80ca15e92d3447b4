package markov

import "math"

// A site is a place where one seal follows another: its lives are those up to
// the next that Begin began. A new seal keeps the pace of the one before it with
// the probability ρ of the Model's SiteShare, and else draws a new one, so the
// lives of a site are a hidden Markov chain with the pace as its state,
//
//	prior_1 = π,  prior_l(g) = ρ · P(g | lives before l) + (1 − ρ) · π_g
//	L = Π_l Σ_g prior_l(g) f_l(g)
//
// where f_l is the likelihood of a life at each pace. The weights of the paces
// in each life come from a pass forward and one back (Baum et al. 1970, Ann.
// Math. Stat. 41:164). Without it fast sites, which have more seals on record
// than slow ones, count for more than their number, and rates come out too fast.

// Renew begins the next life in the place of the last: the same cluster, and in
// part the same pace. renewals is how many new seals have gone in since the last
// life of which something is in the panel, 1 or more.
func (p *Panel) Renew(renewals int) {
	p.lives = append(p.lives, life{
		firstSpan: int32(len(p.spans)), firstMixed: int32(len(p.mixed)), renewals: int32(max(renewals, 1)),
	})
	p.clusters = append(p.clusters, p.clusters[len(p.clusters)-1])
}

// siteFrom is the first life from l on that begins a site.
func (p *Panel) siteFrom(l int) int {
	for l < len(p.lives) && p.lives[l].renewals > 0 {
		l++
	}
	return l
}

// siteRange are the lives of one of n blocks, which holds whole sites.
func (p *Panel) siteRange(block, n int) (first, last int) {
	return p.siteFrom(len(p.lives) * block / n), p.siteFrom(len(p.lives) * (block + 1) / n)
}

// kept is the probability that a life has the pace of the one before it in the
// panel.
func (e *evaluator) kept(l int) float64 {
	return math.Pow(e.siteShare, float64(e.p.lives[l].renewals))
}

// siteScratch is the room for the lives of one site: life by life, pace.
type siteScratch struct {
	logF  []float64 // log f
	prior []float64 // log prior, and in the end with what the later lives add
	fresh []float64 // probability that the pace is a new draw, by pace, given the lives before
	ahead []float64 // by pace
}

// emitter takes the flow of a step and entry at the weights of the paces.
type emitter func(step int32, entry uint8, share float64, weights []float64)

func noFlows(int32, uint8, float64, []float64) {}

// site returns the log-likelihood of the site that begins with life l, and its
// number of lives; it emits their flows and adds up their weights. each, if not
// nil, is called for each life, whose weights are then in s.post.
func (e *evaluator) site(l int, s *lifeScratch, byPace, ratings []float64, emit emitter, each func(life int)) (value float64, lives int) {
	lives = 1
	for e.siteShare > 0 && l+lives < len(e.p.lives) && e.p.lives[l+lives].renewals > 0 {
		lives++
	}
	if lives == 1 {
		of, record := e.life(l, s, e.logPi, byPace, ratings, emit)
		addTo(byPace, s.post)
		if each != nil {
			each(l)
		}
		return of - record, 1
	}
	value = e.siteForward(l, lives, s)
	e.siteBackward(l, lives, s)
	paces := len(e.logPi)
	for i := range lives {
		_, record := e.life(l+i, s, s.site.prior[i*paces:(i+1)*paces], byPace, ratings, emit)
		value -= record
		for g, x := range s.post {
			byPace[g] += x * s.site.fresh[i*paces+g]
		}
		if each != nil {
			each(l + i)
		}
	}
	return value, lives
}

// siteForward works out each life's likelihood by pace and the prior that the
// lives before it leave, and returns the log-likelihood of all.
func (e *evaluator) siteForward(l, lives int, s *lifeScratch) (value float64) {
	x, paces := &s.site, len(e.logPi)
	x.logF, x.prior, x.fresh = resize(x.logF, lives*paces), resize(x.prior, lives*paces), resize(x.fresh, lives*paces)
	x.ahead = resize(x.ahead, paces)
	flat := x.ahead
	clear(flat)
	for i := range lives {
		of, _ := e.life(l+i, s, flat, nil, nil, noFlows)
		for g, w := range s.post {
			x.logF[i*paces+g] = of + math.Log(w)
		}
	}
	post := s.post
	for i := range lives {
		rho := 0.0
		if i > 0 {
			rho = e.kept(l + i)
		}
		for g, pi := range e.grid.Prior {
			drawn, at := (1-rho)*pi, i*paces+g
			prior := drawn
			if i > 0 {
				prior += rho * post[g]
			}
			x.prior[at], x.fresh[at] = math.Log(prior), 0
			if drawn > 0 {
				x.fresh[at] = drawn / prior
			}
		}
		for g := range post {
			post[g] = x.prior[i*paces+g] + x.logF[i*paces+g]
		}
		value += normaliseLogs(post)
	}
	return value
}

// siteBackward adds to each life's prior what the later lives say of its pace.
func (e *evaluator) siteBackward(l, lives int, s *lifeScratch) {
	x, paces := &s.site, len(e.logPi)
	for i := lives - 1; i > 0; i-- {
		of := x.ahead // of this life and the later ones, by its pace
		for g := range of {
			of[g] = x.logF[i*paces+g]
			if i < lives-1 {
				of[g] += s.two[g]
			}
		}
		normaliseLogs(of)
		mean := 0.0
		for g, pi := range e.grid.Prior {
			mean += pi * of[g]
		}
		rho := e.kept(l + i)
		s.two = resize(s.two, paces)
		for g := range of {
			s.two[g] = math.Log(rho*of[g] + (1-rho)*mean)
			x.prior[(i-1)*paces+g] += s.two[g]
		}
	}
}
