package plan

import (
	"math/rand/v2"
	"slices"
)

// pool keeps for each bridge the options of all its joints that were best together
// at some prices: well-made visits to exchange as a whole.
type pool struct {
	m       *model
	size    int         // most sets kept of a bridge
	options [][][]int32 // by bridge
	seen    [][]uint64  // by bridge, hash of each set
}

// Sizes of a pool: small networks are searched more deeply.
const (
	poolSize      = 300
	poolSizeLarge = 12
)

func newPool(m *model) *pool {
	p := &pool{m: m, size: poolSize, options: make([][][]int32, len(m.bridgeID)), seen: make([][]uint64, len(m.bridgeID))}
	if len(m.jointID) > ruinLimit {
		p.size = poolSizeLarge
	}
	return p
}

// add takes in the options in choice. Where a bridge's pool is full, its oldest set
// goes.
func (p *pool) add(choice []int32) {
	for b := range p.options {
		options := choice[p.m.firstJoint[b]:p.m.firstJoint[b+1]]
		hash := uint64(0)
		for _, o := range options {
			hash = mix(hash, uint64(o))
		}
		if len(options) == 0 || slices.Contains(p.seen[b], hash) {
			continue
		}
		if len(p.seen[b]) == p.size {
			p.seen[b] = append(p.seen[b][:0], p.seen[b][1:]...)
			p.options[b] = append(p.options[b][:0], p.options[b][1:]...)
		}
		p.seen[b] = append(p.seen[b], hash)
		p.options[b] = append(p.options[b], slices.Clone(options))
	}
}

// widen adds the best options at prices scattered about u.
func (p *pool) widen(d *dual, u []float64, rounds int, rng *rand.Rand) {
	for range rounds {
		if d.ctx.Err() != nil {
			return
		}
		for r := range u {
			d.u[r] = max(-d.goal.penalty[r], min(d.goal.penalty[r], u[r]*2.5*rng.Float64()))
		}
		d.evaluate()
		p.add(d.choice)
	}
}
