package money

import (
	"fmt"
	"math"
)

// UnitCosts is the price of one treatment: a row of the agency's table, with
// the year whose prices it states and where they come from.
type UnitCosts struct {
	Treatment           string
	PerFootCents        int64 // per foot of joint, along the skew
	FixedCents          int64 // per joint
	MobilisationCents   int64 // per bridge visit, shared by its joints
	TrafficControlCents int64 // per bridge visit, shared by its joints

	RegionalFactor   float64 // multiplies all of these; 0 is 1
	ContingencyShare float64 // 0.1 adds 10 % to them, after the regional factor
	AgreedCents      int64   // a sum that people have set for the joint, in which both are

	PriceYear    int // fiscal year of these prices
	Source       string
	Illustrative bool // invented, not the agency's: say so on every output
}

// AtYear restates the costs at another fiscal year's prices, to the cent.
func (u UnitCosts) AtYear(p Prices, year int) (UnitCosts, error) {
	f, err := p.Factor(u.PriceYear, year)
	if err != nil {
		return UnitCosts{}, err
	}
	for _, c := range []*int64{&u.PerFootCents, &u.FixedCents, &u.MobilisationCents, &u.TrafficControlCents, &u.AgreedCents} {
		if *c, err = scale(*c, f); err != nil {
			return UnitCosts{}, err
		}
	}
	u.PriceYear = year
	return u, nil
}

// OwnCents is what a joint of some length costs without its part of the visit.
func (u UnitCosts) OwnCents(lengthFt float64) float64 {
	return (float64(u.PerFootCents)*lengthFt+float64(u.FixedCents))*u.raise() + float64(u.AgreedCents)
}

// VisitCents is what a bridge visit costs, to the cent.
func (u UnitCosts) VisitCents() int64 {
	return int64(math.Round(float64(u.MobilisationCents+u.TrafficControlCents) * u.raise()))
}

// raise is what the unit costs are multiplied by.
func (u UnitCosts) raise() float64 { return u.regional() * (1 + u.ContingencyShare) }

func (u UnitCosts) regional() float64 {
	if u.RegionalFactor == 0 {
		return 1
	}
	return u.RegionalFactor
}

// Job is the treatment of one joint.
type Job struct {
	Joint    string
	LengthFt float64 // along the skew
	Costs    UnitCosts
}

// Visit is the joints of one bridge that are treated together, under one
// mobilisation and one closure.
type Visit struct {
	Jobs   []Job
	Prices Prices // how prices rise from the price year to Year
	Year   int    // fiscal year in which the money is charged
}

// Line is one line of an estimate. Amount is Quantity times Rate to the cent;
// a share of a sum has the part it bears as its quantity.
type Line struct {
	Label       string
	Quantity    float64
	Unit        string
	RateCents   int64
	AmountCents int64
}

// Estimate is the cost of one joint's treatment, line by line. All lines sum to
// Nominal; those before the change of prices, if there is one, sum to Constant.
type Estimate struct {
	Joint, Treatment string
	Lines            []Line
	PriceYear, Year  int
	Constant         Constant // at PriceYear's prices
	Nominal          Nominal  // as charged in Year
	Illustrative     bool
}

// Estimates prices a visit joint by joint, in the order of its jobs.
//
// Mobilisation and traffic control are paid once: those of the treatment whose
// visit is dearest, shared in proportion to length (equally where no joint has any)
// so that the shares sum to them to the cent. All jobs must have one price year,
// regional factor and contingency; bring them to one year with [UnitCosts.AtYear].
// (Common practice, no source.)
func (v Visit) Estimates() ([]Estimate, error) {
	if err := v.validate(); err != nil {
		return nil, err
	}
	if len(v.Jobs) == 0 {
		return nil, nil
	}
	dearest := v.Jobs[0].Costs
	lengths := make([]float64, len(v.Jobs))
	for i, job := range v.Jobs {
		lengths[i] = job.LengthFt
		if job.Costs.VisitCents() > dearest.VisitCents() {
			dearest = job.Costs
		}
	}
	mobilisationShares, err := Split(dearest.MobilisationCents, lengths)
	if err != nil {
		return nil, err
	}
	trafficShares, err := Split(dearest.TrafficControlCents, lengths)
	if err != nil {
		return nil, err
	}
	factor, err := v.Prices.Factor(v.Jobs[0].Costs.PriceYear, v.Year)
	if err != nil {
		return nil, err
	}
	estimates := make([]Estimate, len(v.Jobs))
	for i, job := range v.Jobs {
		s := sheet{Estimate: Estimate{
			Joint: job.Joint, Treatment: job.Costs.Treatment, Illustrative: job.Costs.Illustrative,
			PriceYear: job.Costs.PriceYear, Year: v.Year,
		}}
		s.times(job.Costs.Treatment, job.LengthFt, "ft", job.Costs.PerFootCents)
		s.times("fixed part", 1, "joint", job.Costs.FixedCents)
		s.share("mobilisation", mobilisationShares[i], dearest.MobilisationCents)
		s.share("traffic control", trafficShares[i], dearest.TrafficControlCents)
		s.raise("regional factor", job.Costs.regional()-1)
		s.raise("contingency", job.Costs.ContingencyShare)
		s.times("as people set it", 1, "joint", job.Costs.AgreedCents)
		s.Constant = Constant(s.sumCents)
		s.raise(fmt.Sprintf("prices %d to %d", s.PriceYear, s.Year), factor-1)
		s.Nominal = Nominal(s.sumCents)
		if s.err != nil {
			return nil, fmt.Errorf("estimate of joint %s: %w", job.Joint, s.err)
		}
		estimates[i] = s.Estimate
	}
	return estimates, nil
}

func (v Visit) validate() error {
	for _, job := range v.Jobs {
		c := job.Costs
		if !(job.LengthFt >= 0) || math.IsInf(job.LengthFt, 0) {
			return fmt.Errorf("%w: joint %s has a length of %g ft", ErrInvalid, job.Joint, job.LengthFt)
		}
		if min(c.PerFootCents, c.FixedCents, c.MobilisationCents, c.TrafficControlCents, c.AgreedCents) < 0 {
			return fmt.Errorf("%w: treatment %q has a negative cost", ErrInvalid, c.Treatment)
		}
		if raise := c.raise(); !(raise > 0) || math.IsInf(raise, 0) || !(c.ContingencyShare >= 0) || raise != v.Jobs[0].Costs.raise() {
			return fmt.Errorf("%w: a regional factor of %g with a contingency of %g; one visit has one of each", ErrInvalid, c.regional(), c.ContingencyShare)
		}
		if c.PriceYear != v.Jobs[0].Costs.PriceYear {
			return fmt.Errorf("%w: treatments of one visit have prices of %d and %d; restate them at one year's prices",
				ErrInvalid, v.Jobs[0].Costs.PriceYear, c.PriceYear)
		}
	}
	return nil
}

// sheet adds lines to an estimate and keeps the first error.
type sheet struct {
	Estimate
	sumCents int64
	err      error
}

func (s *sheet) add(l Line, err error) {
	if err != nil && s.err == nil {
		s.err = err
	}
	s.Lines = append(s.Lines, l)
	s.sumCents += l.AmountCents
}

func (s *sheet) times(label string, quantity float64, unit string, rateCents int64) {
	if rateCents == 0 {
		return
	}
	amount, err := scale(rateCents, quantity)
	s.add(Line{label, quantity, unit, rateCents, amount}, err)
}

// share adds a part of a sum that is paid once in the visit.
func (s *sheet) share(label string, partCents, wholeCents int64) {
	if wholeCents == 0 {
		return
	}
	s.add(Line{label, float64(partCents) / float64(wholeCents), "of visit", wholeCents, partCents}, nil)
}

// raise adds a fraction of everything before it.
func (s *sheet) raise(label string, fraction float64) {
	if fraction == 0 {
		return
	}
	amount, err := scale(s.sumCents, fraction)
	s.add(Line{label, fraction, "of above", s.sumCents, amount}, err)
}
