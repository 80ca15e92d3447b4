package life

import (
	"errors"
	"fmt"
	"math"
)

// ErrInvalid is wrapped by every error about a record that cannot be used.
var ErrInvalid = errors.New("invalid life record")

// Record is what is known of one seal's life: it lies above Low and not above
// High. Make it with [Exact], [InService], [FailedBy] or [Between].
type Record struct {
	Low, High float64 // equal: known exactly; High +Inf: still in service at Low
	// Entry is the age at which the seal came under observation, 0 where that is
	// its installation. A seal that failed before it would not be on record.
	Entry float64
	// Weight is how many seals share the record; 0 is 1.
	Weight float64
}

// Exact is a life of known length.
func Exact(life float64) Record { return Record{Low: life, High: life} }

// InService is a seal that had not failed at the given age.
func InService(age float64) Record { return Record{Low: age, High: math.Inf(1)} }

// FailedBy is a seal found failed the first time that it was looked at.
func FailedBy(age float64) Record { return Record{High: age} }

// Between is a seal seen in service at one age and failed at a later one.
func Between(inServiceAge, failedAge float64) Record {
	return Record{Low: inServiceAge, High: failedAge}
}

// Validate reports why a record cannot be used. Low may not be below Entry, and
// a life is above zero.
func (r Record) Validate() error {
	if err := r.fault(); err != nil {
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	return nil
}

func (r Record) fault() error {
	switch {
	case !(r.Low >= 0) || math.IsInf(r.Low, 0) || !(r.High >= r.Low) || !(r.High > 0):
		return fmt.Errorf("life between %g and %g", r.Low, r.High)
	case !(r.Entry >= 0) || r.Entry > r.Low || r.Entry == r.High:
		return fmt.Errorf("life between %g and %g of a seal on record from age %g", r.Low, r.High, r.Entry)
	case !(r.Weight >= 0) || math.IsInf(r.Weight, 0):
		return fmt.Errorf("weight %g", r.Weight)
	}
	return nil
}

func (r Record) weight() float64 {
	if r.Weight == 0 {
		return 1
	}
	return r.Weight
}

// Counts is how many seals a fit rests on, by what is known of them.
type Counts struct {
	Exact, Interval, Left float64 // failed: age known, between two ages, by an age
	Right                 float64 // in service when last seen
	// Exposure is the time under observation: up to the failure, or to the last
	// time that the seal was seen in service.
	Exposure float64
}

// Failed is the number of seals that have failed.
func (c Counts) Failed() float64 { return c.Exact + c.Interval + c.Left }

func (c *Counts) add(r Record) {
	w := r.weight()
	switch {
	case r.Low == r.High:
		c.Exact += w
	case math.IsInf(r.High, 1):
		c.Right += w
	case r.Low == 0:
		c.Left += w
	default:
		c.Interval += w
	}
	c.Exposure += w * (r.Low - r.Entry)
}
