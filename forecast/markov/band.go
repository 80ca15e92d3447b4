package markov

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// ShareBand returns the share of a joint's length in one state, years after its
// last inspection, that is not passed with the given probability: 0.1 and 0.9
// are the ends of an 80 % band. Each outlook is a draw of the parameters with
// equal weight; shares at the last inspection, or rows of LikelyWidth, and the
// joint's weights on the paces, are by draw.
//
// At one pace the share has mean and variance
//
//	μ = Σ_i s_i P_ij,   v = Σ_i s_i P_ij (1 − P_ij) / w
//
// and is taken as Beta with these; the band is that of the mixture over paces
// and draws, to 1e-6. It takes about 0.1 ms: for a joint on a page, not for a
// network.
func ShareBand(outlooks []*Outlook, shares, weights [][]float64, state int, years, probability float64) (float64, error) {
	if len(outlooks) == 0 || len(weights) != len(outlooks) || len(shares) != len(outlooks) ||
		!(probability > 0 && probability < 1) || state < 0 || state >= outlooks[0].n || years < 0 {
		return 0, fmt.Errorf("%w band: %d outlooks, %d weights, state %d, probability %v",
			ErrInvalid, len(outlooks), len(weights), state+1, probability)
	}
	var parts []betaPart
	for d, o := range outlooks {
		wide := LikelyWidth(o.n)
		byPace := len(shares[d]) == wide*len(o.pace.Z)
		if len(shares[d]) != o.n && !byPace || len(weights[d]) != len(o.pace.Z) {
			return 0, fmt.Errorf("%w band: %d shares and %d weights", ErrInvalid, len(shares[d]), len(weights[d]))
		}
		p := make([]float64, o.n*o.n)
		for g, z := range o.pace.Z {
			o.chain.P(p, z*years)
			from := shares[d][:o.n]
			if byPace {
				from = shares[d][g*wide : (g+1)*wide]
			}
			part := betaPart{weight: weights[d][g] / float64(len(outlooks))}
			v := 0.0
			for i, s := range from[:o.n] {
				q := p[i*o.n+state]
				part.mean += s * q
				v += s * q * (1 - q) / max(o.rule.Pieces, 1)
			}
			if byPace {
				v = max(part.mean-doubt(from[o.n:wide-1], p, o.n, state), 0) / max(o.rule.Pieces, 1)
			}
			part.setSize(v)
			parts = append(parts, part)
		}
	}
	lo, hi := 0.0, 1.0
	for hi-lo > 1e-6 {
		mid := (lo + hi) / 2
		below := 0.0
		for _, part := range parts {
			below += part.weight * part.below(mid)
		}
		if below < probability {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}

// betaPart is one part of a mixture of Beta distributions.
type betaPart struct {
	weight, mean float64
	size         float64 // α + β; 0: all at the mean
}

func (b *betaPart) setSize(variance float64) {
	if room := b.mean * (1 - b.mean); variance > 1e-12 && room > variance {
		b.size = room/variance - 1
	} else if variance > 1e-12 {
		b.size = 1e-6 // nearly all at 0 and 1
	}
}

func (b *betaPart) below(x float64) float64 {
	if b.size == 0 || math.Min(b.mean, 1-b.mean)*b.size < 1e-9 {
		if x >= b.mean {
			return 1
		}
		return 0
	}
	return mathext.RegIncBeta(b.mean*b.size, (1-b.mean)*b.size, x)
}
