package plan

import (
	"math/rand/v2"
	"slices"
)

// pool keeps for each bridge the options of all its joints that were best together
// at some prices: well-made visits to exchange as a whole.
type pool struct {
	m       *model
	options [][][]int32 // by bridge
	seen    []map[uint64]bool
}

func newPool(m *model) *pool {
	return &pool{m: m, options: make([][][]int32, len(m.bridgeID)), seen: make([]map[uint64]bool, len(m.bridgeID))}
}

// poolSize is how many sets of options of a bridge are kept.
const poolSize = 300

// add takes in the options in choice.
func (p *pool) add(choice []int32) {
	for b := range p.options {
		options := choice[p.m.firstJoint[b]:p.m.firstJoint[b+1]]
		hash := uint64(0)
		for _, o := range options {
			hash = mix(hash, uint64(o))
		}
		if p.seen[b] == nil {
			p.seen[b] = map[uint64]bool{}
		}
		if !p.seen[b][hash] && len(options) > 0 && len(p.options[b]) < poolSize {
			p.seen[b][hash] = true
			p.options[b] = append(p.options[b], slices.Clone(options))
		}
	}
}

// widen adds the best options at prices scattered about u.
func (p *pool) widen(d *dual, u []float64, rounds int, rng *rand.Rand) {
	for range rounds {
		for r := range u {
			d.u[r] = min(d.goal.penalty[r], u[r]*2.5*rng.Float64())
		}
		d.evaluate()
		p.add(d.choice)
	}
}
