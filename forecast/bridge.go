package forecast

import (
	"context"
	"fmt"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// Outlook is the future of a joint, and the job that comes next.
type Outlook struct {
	Projected
	Next NextJob
}

// NextJob is what is to be done at a joint next, as far as that is known.
type NextJob struct {
	Year      int    // fiscal; 0: no job is in sight, and Why says what stands instead
	Treatment string // blank: not settled
	Why       string
}

// OutlookOf is the outlook of each joint in service of a bridge, by the joint's
// key. The next job is that of an approved list that is not yet done; else what
// people decided; else that of the first year, from the next fiscal year on, in
// which the joint would stand on the work list ([Model.NewWorkList]) if nothing is
// done before.
func (m *Model) OutlookOf(ctx context.Context, db bun.IDB, b *inventory.Bridge, o Options) (map[int64]Outlook, error) {
	jobs, err := Jobs(ctx, db, JobFilter{BridgeID: b.ID, Open: true})
	if err != nil {
		return nil, err
	}
	open := map[int64]*Job{}
	for i := range jobs {
		if j := &jobs[i]; j.Progress != Completed && open[j.JointID] == nil {
			open[j.JointID] = j
		}
	}
	o.Filter = inventory.Filter{Structure: b.State + "/" + b.StructureNumber}
	o.prospecting = m.listing(m.YearOf(o.AsOf) + 1)
	o.prospecting.wanted = nil
	out := map[int64]Outlook{}
	err = m.Each(ctx, db, o, func(j Projected) error {
		out[j.ID] = Outlook{j, m.nextJob(j, open[j.ID])}
		return nil
	})
	return out, err
}

func (m *Model) nextJob(j Projected, job *Job) NextJob {
	if job != nil {
		return NextJob{job.Year, job.Treatment, fmt.Sprintf("%s, on the list %s", job.Progress, job.List)}
	}
	hold, pin := j.decided(Hold), j.decided(Pin)
	p := j.Prospect
	switch {
	case len(j.Urgent()) > 0:
		return NextJob{Why: "an engineer's review comes first"}
	case j.decided(Exclude) != nil:
		return NextJob{Why: "left out: " + j.decided(Exclude).Reason}
	case j.Quantity:
		return NextJob{Why: "its joints are to be found first"}
	case pin != nil && (pin.Treatment != "" || p == nil):
		return NextJob{pin.Year, pin.Treatment, "pinned: " + pin.Reason}
	case p == nil && j.Forecast == nil:
		return NextJob{Why: string(j.Reason)}
	case p == nil:
		return NextJob{Why: "its length is not on record"}
	case pin != nil:
		next := NextJob{Year: pin.Year, Why: "pinned: " + pin.Reason}
		if best, ok := p.BestIn(max(pin.Year-p.FirstYear, 0)); ok {
			next.Treatment = p.Treatments[best.Treatment].Name
		}
		return next
	case j.claimed(j.AsOf):
		return NextJob{Why: "a claim under its warranty comes first"}
	}
	from, why := 0, ""
	if hold != nil {
		from, why = hold.Year-p.FirstYear, "held until "+fmt.Sprint(hold.Year)+": "+hold.Reason
	}
	for y := max(from, 0); y < p.terms.Years; y++ {
		best, ok := p.BestIn(y)
		if j.FailedBy(p.FirstYear+y) >= m.tables.Settings.WorkListProbability && ok && best.Wait > 0 && !p.leftToProject(best) {
			return NextJob{p.FirstYear + y, p.Treatments[best.Treatment].Name, why}
		}
	}
	if p.project >= 0 {
		return NextJob{Why: fmt.Sprintf("left to the bridge's project of %d", p.FirstYear+p.project)}
	}
	return NextJob{Why: "none within the years looked at"}
}
