package markov

import (
	"fmt"
	"slices"
)

// Run is a row of looks at a joint by shares, with no work in between, each of
// which may be wrong.
type Run struct {
	// True are the shares that it began with, known for certain; not used where
	// there are Starts.
	True []float64
	// Starts are its possible beginnings with all feet in the first state, as
	// for Panel.StartedAt; only the first run of a life can have them.
	Starts []Start
	// Looks in order: Years since the one before, or since the beginning, After
	// and X. The Years of the first are not used where there are Starts. Before
	// and Seen are not used.
	Looks []Interval
}

// BeginShares starts a life that runs are added to.
func (r *Ratings) BeginShares(cluster int) {
	r.p.Begin(cluster)
	r.first = append(r.first, int32(len(r.tracks)))
}

// Renew begins the next life in the place of the last, as Panel.Renew.
func (r *Ratings) Renew(renewals int) {
	r.p.Renew(renewals)
	r.first = append(r.first, int32(len(r.tracks)))
}

// AddRun adds a run to the life begun last. The worst feet of one look are
// taken to be the worst of the others, as Match does, so that the run falls
// into parts that were each seen in one state at each look; a part of share s
// counts as w·s observations of its row of ratings. Without errors that is the
// likelihood of a Panel.
func (r *Ratings) AddRun(v Run) error {
	p := r.p
	if len(r.first) == 0 || len(v.Looks) == 0 || len(v.Starts) == 0 && len(v.True) != p.n {
		return fmt.Errorf("%w run: %d looks, %d starts, %d states", ErrInvalid, len(v.Looks), len(v.Starts), len(v.True))
	}
	begin := v.True
	if len(v.Starts) > 0 {
		begin = p.At(0)
	}
	rows := [][]float64{begin}
	for i, look := range v.Looks {
		if len(look.After) != p.n || len(look.X) != p.covariates || !(look.Years > 0 || i == 0 && len(v.Starts) > 0) {
			return fmt.Errorf("%w look %d: %v years, %d states, %d covariates", ErrInvalid, i+1, look.Years, len(look.After), len(look.X))
		}
		rows = append(rows, look.After)
	}
	for i, row := range rows {
		if err := checkShares(row); err != nil {
			return fmt.Errorf("look %d: %w", i, err)
		}
	}
	l := &p.lives[len(p.lives)-1]
	if len(v.Starts) > 0 {
		if err := r.starts(l, v); err != nil {
			return err
		}
	}
	var steps []int32
	for i, look := range v.Looks {
		if i == 0 && len(v.Starts) > 0 {
			steps = append(steps, -1)
			continue
		}
		steps = append(steps, p.step(look.Years, look.X))
		p.counts.Intervals++
		p.counts.Years += look.Years
	}
	eachPart(rows, func(share float64, states []uint8) {
		r.track(l, v, steps, share, states)
	})
	return nil
}

// starts gives the life its possible beginnings.
func (r *Ratings) starts(l *life, v Run) error {
	p, x := r.p, v.Looks[0].X
	if len(l.start) > 0 {
		return fmt.Errorf("%w run: only one of a life can have starts", ErrInvalid)
	}
	sum := 0.0
	l.conditioned = v.Starts[0].RecordAgeYears > 0
	for _, s := range v.Starts {
		if s.Weight == 0 {
			s.Weight = 1
		}
		if !(s.AgeYears > 0) || s.RecordAgeYears < 0 || s.RecordAgeYears > s.AgeYears || !(s.Weight > 0) || (s.RecordAgeYears > 0) != l.conditioned {
			return fmt.Errorf("%w start: %+v", ErrInvalid, s)
		}
		begin := start{first: p.step(s.AgeYears, x), record: -1, weight: s.Weight, replaced: s.Replaced}
		if l.conditioned {
			begin.record = p.step(s.RecordAgeYears, x)
			begin.first = p.step(max(s.AgeYears-s.RecordAgeYears, shortest), x) // from the record on
			p.entry(p.survivedCode(0))
		}
		sum += s.Weight
		l.start = append(l.start, begin)
	}
	for i := range l.start {
		l.start[i].weight /= sum
	}
	return nil
}

// shortest is the least time between the beginning of the record and a look.
const shortest = 1.0 / 52

// track adds the ratings of one part, once for each possible beginning.
func (r *Ratings) track(l *life, v Run, steps []int32, share float64, states []uint8) {
	for a := range max(len(v.Starts), 1) {
		k := track{first: int32(len(r.ratings)), share: share, start: -1, certain: true}
		r.ratings = append(r.ratings, rating{step: -1, state: states[0]})
		for i, step := range steps {
			if i == 0 && len(v.Starts) > 0 {
				begin := l.start[a]
				if k.start = int32(a); l.conditioned {
					r.ratings = append(r.ratings, rating{step: begin.record, seen: onRecord})
				}
				step = begin.first
			}
			r.ratings = append(r.ratings, rating{step: step, state: states[i+1]})
		}
		k.last = int32(len(r.ratings))
		r.tracks = append(r.tracks, k)
	}
}

// eachPart calls fn for each part of the length that is in one state in each row,
// the worst feet of one row being the worst of all.
func eachPart(rows [][]float64, fn func(share float64, states []uint8)) {
	cuts := []float64{0}
	for _, row := range rows {
		sum := 0.0
		for _, s := range row {
			sum += s
			cuts = append(cuts, min(sum, 1))
		}
	}
	slices.Sort(cuts)
	states := make([]uint8, len(rows))
	for i := 1; i < len(cuts); i++ {
		share := cuts[i] - cuts[i-1]
		if share < 1e-9 {
			continue
		}
		for k, row := range rows {
			left := (cuts[i] + cuts[i-1]) / 2
			for j, s := range row {
				if s > 0 {
					states[k] = uint8(j)
				}
				if left -= s; left < 0 {
					break
				}
			}
		}
		fn(share, states)
	}
}
