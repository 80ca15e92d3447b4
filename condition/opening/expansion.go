package opening

import "fmt"

// Support is one abutment or pier, as far as movement goes.
type Support struct {
	Joint bool // the superstructure is parted here
	Fixed bool // the bearings hold it here
}

// Proposal is an expansion length worked out from spans and fixity.
type Proposal struct {
	LengthFt float64
	Assumed  bool // a unit without a fixed bearing on record was taken as held at its middle
}

// ProposeExpansionLength returns the expansion length that the joint at one
// support serves: on each side, the distance to the fixed bearing of the unit
// (the superstructure up to the next joint), or to the unit's middle where no
// fixed bearing is on record. Of several fixed bearings the nearest counts.
// supports has one more entry than spansFt; beyond the bridge there is ground,
// which does not move. ErrInvalid for lengths that don't match, or a support
// without a joint.
func ProposeExpansionLength(spansFt []float64, supports []Support, at int) (Proposal, error) {
	if len(supports) != len(spansFt)+1 || at < 0 || at >= len(supports) {
		return Proposal{}, fmt.Errorf("%w: %d spans need %d supports, and a joint at one of them", ErrInvalid, len(spansFt), len(spansFt)+1)
	}
	if !supports[at].Joint {
		return Proposal{}, fmt.Errorf("%w: support %d has no joint", ErrInvalid, at+1)
	}
	for i, span := range spansFt {
		if !(span > 0 && span < 1e5) {
			return Proposal{}, fmt.Errorf("%w: span %d is %g ft", ErrInvalid, i+1, span)
		}
	}
	var p Proposal
	for _, step := range [2]int{-1, 1} {
		ft, assumed := oneSide(spansFt, supports, at, step)
		p.LengthFt += ft
		p.Assumed = p.Assumed || assumed
	}
	return p, nil
}

func oneSide(spansFt []float64, supports []Support, at, step int) (ft float64, assumed bool) {
	for i := at; i+step >= 0 && i+step < len(supports); {
		ft += spansFt[min(i, i+step)]
		i += step
		if supports[i].Fixed {
			return ft, false
		}
		if supports[i].Joint {
			break
		}
	}
	return ft / 2, ft > 0
}
