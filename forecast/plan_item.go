package forecast

// PlanItem is one treatment in a plan. What it has in common with others they
// share, for several plans of a large network are held at once.
type PlanItem struct {
	*PlanJoint
	*JobKind
	Year      int   // fiscal
	PaidYear  int   // fiscal, in which its money is drawn
	Nights    int   // closures that the work takes; 0: not known, in a kept plan
	CostCents int64 // nominal, without the visit
}

// PlanJoint is a joint with work in a plan.
type PlanJoint struct {
	JointID         int64
	Tag             string
	StructureNumber string
	Route           string
	District        string
	Kind            string
	Quantity        bool // for a whole bridge: its joints are to be found first; not known in a kept plan
	bridge          int64
}

// JobKind is what is done in a plan's job, and how. Of a kept plan the treatment,
// the fund and who does it are known.
type JobKind struct {
	Treatment string
	Fund      string // that pays, less the match; empty: own money
	DoneBy    string // InHouse or Contract
	Why       string
	NewKind   string // of the new seal; empty: none
	Months    string // in which it is installed; empty: any
	Fresh     bool   // it renews a nearly new seal
}

// jobKinds keeps one of each.
type jobKinds map[JobKind]*JobKind

func (k jobKinds) of(kind JobKind) *JobKind {
	one := k[kind]
	if one == nil {
		one = &kind
		k[kind] = one
	}
	return one
}

// jobKind is that of step k of a joint's course.
func (p *Problem) jobKind(j *planJoint, c *outline, k int) JobKind {
	t, year := j.treatments[c.steps[k].treatment], p.FirstYear+int(c.steps[k].year)
	newKind := j.newKind(t)
	return JobKind{
		Treatment: t.Name, Fund: p.limits.fundName(c.funds[k]), DoneBy: p.limits.delivery(t.Name, j.District).DoneBy, Why: j.reason.why(year, k > 0),
		NewKind: newKind, Months: p.limits.seasons.Of(newKind, j.climate).Words(), Fresh: j.reason.fresh(t, year, k > 0),
	}
}
