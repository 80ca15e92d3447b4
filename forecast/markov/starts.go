package markov

import (
	"fmt"
	"math"
)

// Start is a possible beginning of a life that came on record when it was no
// longer new.
type Start struct {
	AgeYears       float64 // from installation to the first inspection, over 0
	RecordAgeYears float64 // from installation to the beginning of the record; 0: no condition
	Weight         float64 // relative probability of this beginning; 0 means 1
	// Replaced says that the seal took the place of another before the record.
	// Where seals of a site share its pace, fast sites had more of them.
	Replaced bool
}

// StartedAt says how the life begun last came to its first inspection, where
// it had the given shares. One Start is a known installation date; several are
// a range of possible dates, over which the likelihood is summed. All feet were
// in the first state at installation.
//
// Where RecordAgeYears is given the seal is on record only because it had not
// failed by then, and the likelihood is divided by the probability of that: no
// piece in the last state, which is the failure rule as long as one piece is
// more of the length than the rule allows. Without this, only the survivors of
// the old seals are seen, and rates come out too low.
func (p *Panel) StartedAt(first, x []float64, starts ...Start) error {
	if len(p.lives) == 0 || len(starts) == 0 || len(first) != p.n || len(x) != p.covariates {
		return fmt.Errorf("%w start: %d starts, %d shares, %d covariates", ErrInvalid, len(starts), len(first), len(x))
	}
	if err := checkShares(first); err != nil {
		return err
	}
	var entries []uint8
	var shares, weights []float64
	for j, s := range first {
		if s > 0 {
			if !p.reach[j] {
				return fmt.Errorf("state %d at the first inspection is %w", j+1, ErrImpossible)
			}
			entries, shares = append(entries, p.entry(j)), append(shares, s)
		}
	}
	sum := 0.0
	conditioned := starts[0].RecordAgeYears > 0
	for _, s := range starts {
		if s.Weight == 0 {
			s.Weight = 1
		}
		if !(s.AgeYears > 0) || s.RecordAgeYears < 0 || s.RecordAgeYears > s.AgeYears || !(s.Weight > 0) {
			return fmt.Errorf("%w start: %+v", ErrInvalid, s)
		}
		if (s.RecordAgeYears > 0) != conditioned {
			return fmt.Errorf("%w starts: all or none need an age when the record begins", ErrInvalid)
		}
		if conditioned && first[p.n-1] > 0 && s.RecordAgeYears == s.AgeYears {
			return fmt.Errorf("failed when the record began: %w", ErrImpossible)
		}
		sum += s.Weight
		weights = append(weights, s.Weight)
	}
	l := &p.lives[len(p.lives)-1]
	l.startEntry, l.startShare, l.conditioned = entries, shares, conditioned
	for i, s := range starts {
		v := start{first: p.step(s.AgeYears, x), record: -1, weight: weights[i] / sum, replaced: s.Replaced}
		if conditioned {
			v.record = p.step(s.RecordAgeYears, x)
			p.entry(p.survivedCode(0))
		}
		l.start = append(l.start, v)
	}
	return nil
}

// close integrates the sums over the paces and the possible starts, leaves the
// weights of the paces in s.post, and returns beside the logarithm that of the
// probability of being on record, 0 where it is no condition.
func (e *evaluator) close(v *life, s *lifeScratch, logPrior, byPace []float64, emit emitter) (value, record float64) {
	if len(v.start) == 0 {
		for g, x := range logPrior {
			s.post[g] = s.sum[g] + x
		}
		return normaliseLogs(s.post), 0
	}
	paces := len(s.sum)
	s.starts = resize(s.starts, len(v.start)*paces)
	for a, start := range v.start {
		row := s.starts[a*paces : (a+1)*paces]
		for g, x := range logPrior {
			row[g] = x + s.sum[g] + e.logStart(start, g)
		}
		for f := range v.startEntry {
			e.reached(s.one, nil, v, start, f)
			for g, x := range s.one {
				row[g] += e.w * v.startShare[f] * x
			}
		}
	}
	value = normaliseLogs(s.starts)
	clear(s.post)
	for a, start := range v.start {
		row := s.starts[a*paces : (a+1)*paces]
		addTo(s.post, row)
		if start.replaced && byPace != nil {
			addTo(byPace[paces:], row)
		}
		for f, entry := range v.startEntry {
			share := e.w * v.startShare[f]
			if !e.p.afterRecord(v, f) {
				emit(start.first, entry, share, row)
				continue
			}
			s.two, s.ratio = resize(s.two, paces), resize(s.ratio, paces)
			e.reached(s.one, s.ratio, v, start, f)
			for _, d := range e.p.sinceRecord(v, start, f) {
				for g, x := range row {
					if s.one[g], s.two[g] = 0, 0; d.early == e.early(v, start, f, g) {
						s.one[g], s.two[g] = x*(1+s.ratio[g]), x*s.ratio[g]
					}
				}
				emit(d.more.step, d.more.entry, share, s.one)
				emit(d.less.step, d.less.entry, -share, s.two)
			}
		}
	}
	if v.conditioned {
		record = e.onRecord(v, s, byPace, emit)
	}
	return value, record
}

// logStart is the logarithm of the relative probability of a start at a pace. In
// the long run a site of pace z has new seals z times as often as one of pace 1
// (renewal theory), so that of the seals that took the place of another, those
// that kept its pace, a share ρ, are z times as many:
//
//	weight · (1 − ρ + ρz)
//
// That is the limit for old sites if ρ is 1. If ρ is less a site changes its pace
// now and then, and the limit is no weight at all; for the few seals that a site
// has before its records this comes near (testdata/degradation has by how much).
func (e *evaluator) logStart(s start, g int) float64 {
	x := math.Log(s.weight)
	if s.replaced {
		x += math.Log1p(e.siteShare * (e.grid.Z[g] - 1))
	}
	return x
}

// dLogStart is the derivative of logStart by log k where the seal was replaced.
func (e *evaluator) dLogStart(g int) float64 {
	z := e.grid.Z[g]
	return e.siteShare * z * e.dLogZ[g] / (1 + e.siteShare*(z-1))
}

// afterRecord reports whether the feet of a start's flow are in the last state,
// and so must have come there after the record began.
func (p *Panel) afterRecord(v *life, flow int) bool {
	return v.conditioned && int(p.entries[v.startEntry[flow]]) == p.n-1
}

// difference is a probability as one entry of the table less another.
type difference struct {
	more, less struct {
		step  int32
		entry uint8
	}
	early bool // it is for paces at which most have not failed by the first inspection
}

// sinceRecord is the probability of coming to the last state d between the record
// and the first inspection, in two ways: P_1d(first) − P_1d(record), or by the
// probabilities of not being there S(record) − S(first). Of numbers next to 1 the
// difference would be rounding alone.
func (p *Panel) sinceRecord(v *life, start start, flow int) (d [2]difference) {
	failed, survived := v.startEntry[flow], p.entry(p.survivedCode(0))
	d[0].early = true
	d[0].more.step, d[0].more.entry, d[0].less.step, d[0].less.entry = start.first, failed, start.record, failed
	d[1].more.step, d[1].more.entry, d[1].less.step, d[1].less.entry = start.record, survived, start.first, survived
	return d
}

// early reports whether, at a pace, most have not come to the last state by the
// first inspection.
func (e *evaluator) early(v *life, start start, flow, pace int) bool {
	return e.row(start.first, v.startEntry[flow])[pace] < -math.Ln2
}

// reached writes the logarithm of the probability, by pace, of being at the
// first inspection where the start's flow says, and of having been on record.
// For the last state that is a difference; then ratio, if not nil, is its second
// term over the whole.
func (e *evaluator) reached(logP, ratio []float64, v *life, start start, flow int) {
	copy(logP, e.row(start.first, v.startEntry[flow]))
	if !e.p.afterRecord(v, flow) {
		return
	}
	for _, d := range e.p.sinceRecord(v, start, flow) {
		more, less := e.row(d.more.step, d.more.entry), e.row(d.less.step, d.less.entry)
		for g := range logP {
			if d.early != e.early(v, start, flow, g) {
				continue
			}
			part := max(-math.Expm1(less[g]-more[g]), 1e-300)
			if ratio != nil {
				ratio[g] = math.Exp(less[g]-more[g]) / part
			}
			logP[g] = more[g] + math.Log(part)
		}
	}
}

// onRecord is the logarithm of the probability of no failure before the record
// began, over paces and starts.
func (e *evaluator) onRecord(v *life, s *lifeScratch, byPace []float64, emit emitter) float64 {
	paces := len(s.sum)
	survived := e.p.entry(e.p.survivedCode(0))
	for a, start := range v.start {
		for g, x := range e.row(start.record, survived) {
			s.starts[a*paces+g] = e.logPi[g] + e.logStart(start, g) + e.w*x
		}
	}
	value := normaliseLogs(s.starts)
	for a, start := range v.start {
		row := s.starts[a*paces : (a+1)*paces]
		emit(start.record, survived, -e.w, row)
		for g, x := range row {
			if byPace == nil {
				break
			}
			byPace[g] -= x
			if start.replaced {
				byPace[paces+g] -= x
			}
		}
	}
	return value
}
