package strategy

import "math"

// generations is how many new seals in a row are told apart; by then next to
// nothing of the pace of the seal in place is left.
const generations = 6

// Value is what the strategies of one joint cost.
type Value struct {
	joint   *Joint
	terms   Terms
	factors []float64   // v^t by half-year
	next    []Renewal   // the best renewal for ever, by how many new seals there have been
	now     *ending     // the seal in place
	sealed  [][]*ending // the new seals of a treatment that renews, by number from 1
	mended  [][]*ending // the seal in place after a treatment that repairs, by year
}

// Renewal is the cheapest way to keep a joint sealed for ever, beginning with a
// renewal: always the same treatment, at the same age.
type Renewal struct {
	Treatment int
	AgeYears  float64
	Dollars   float64 // present value at the first renewal, which it includes
}

// ending is a seal together with what follows it. Everything is seen from its
// beginning, in discounted dollars by age in half-years.
type ending struct {
	harm  []float64 // of the time spent failed up to the age
	least []float64 // all that the seal costs when renewed at the age or the best later one
	at    []int     // that later age
}

// NewValue works out what the strategies of a joint cost. Errors wrap
// ErrInvalid.
func NewValue(j *Joint, t Terms) (*Value, error) {
	if err := t.validate(); err != nil {
		return nil, err
	}
	if err := j.validate(t); err != nil {
		return nil, err
	}
	n := len(j.Treatments)
	v := &Value{joint: j, terms: t, factors: make([]float64, Points), sealed: make([][]*ending, n), mended: make([][]*ending, n)}
	for i := range v.factors {
		v.factors[i] = math.Pow(1+t.Rate, -float64(i)/StepsPerYear)
	}
	site, group := make([][]float64, n), make([][]float64, n)
	for i, r := range j.Treatments {
		if r.Effect == Renews {
			site[i], group[i] = v.harm(r.Site), v.harm(r.Group)
		}
	}
	for seals := range generations + 1 {
		v.next = append(v.next, v.renewal(seals+1, site, group))
	}
	v.now = v.ending(v.harm(j.Now), 0)
	for i, r := range j.Treatments {
		switch r.Effect {
		case Renews:
			v.sealed[i] = v.newSeals(site[i], group[i])
		case Repairs:
			for _, c := range r.After[:min(len(r.After), t.Years+1)] {
				v.mended[i] = append(v.mended[i], v.ending(v.harm(c), 0))
			}
		}
	}
	return v, nil
}

// harm is the dollars of harm that a seal does by each age.
func (v *Value) harm(c Curve) []float64 {
	h := c.harm(v.factors)
	for i := range h {
		h[i] *= v.joint.ConsequenceDollars
	}
	return h
}

// renewal is the best renewal for ever whose first new seal is number g. With
// V = v^τ at the age τ, c the cost of a renewal, ρ the site's share, and H the
// harm of a seal's life up to τ, that of the nth new seal is
//
//	H_n = ρ^n H_site + (1 − ρ^n) H_group
//
// as each new seal keeps the pace before it with probability ρ, and so
//
//	c + H_g + V (c + H_g+1 + V (…)) = (c + H_group)/(1 − V) + ρ^g (H_site − H_group)/(1 − ρV)
//
// (both are geometric series). The answer is the least over τ, in whole years,
// and the treatments.
func (v *Value) renewal(g int, site, group [][]float64) Renewal {
	best := Renewal{Dollars: math.Inf(1)}
	rho := v.terms.SiteShare
	kept := math.Pow(rho, float64(g))
	for i, r := range v.joint.Treatments {
		if r.Effect != Renews {
			continue
		}
		for age := StepsPerYear; age < Points; age += StepsPerYear {
			V := v.factors[age]
			d := (r.CostDollars+group[i][age])/(1-V) + kept*(site[i][age]-group[i][age])/(1-rho*V)
			if d < best.Dollars {
				best = Renewal{i, float64(age) / StepsPerYear, d}
			}
		}
	}
	return best
}

// Forever is the cheapest way to keep the joint sealed for ever from its next
// renewal on.
func (v *Value) Forever() Renewal { return v.next[0] }

// newSeals are the seals that one treatment puts in, by their number.
func (v *Value) newSeals(site, group []float64) []*ending {
	out := make([]*ending, generations+1)
	kept := 1.0
	for g := 1; g <= generations; g++ {
		kept *= v.terms.SiteShare
		harm := make([]float64, Points)
		for k := range harm {
			harm[k] = group[k] + kept*(site[k]-group[k])
		}
		out[g] = v.ending(harm, g)
	}
	return out
}

// ending adds to a seal the best time to renew it, given how many new seals
// there have been by then.
func (v *Value) ending(harm []float64, seals int) *ending {
	next := v.next[seals].Dollars
	e := &ending{harm: harm, least: make([]float64, Points), at: make([]int, Points)}
	best, at := math.Inf(1), 0
	for i := Points - 1; i >= 0; i-- {
		if d := harm[i] + v.factors[i]*next; d <= best {
			best, at = d, i
		}
		e.least[i], e.at[i] = best, at
	}
	return e
}
