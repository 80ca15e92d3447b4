package forecast

import (
	"context"
	"slices"

	"github.com/uptrace/bun"

	"reseal/condition/sheet"
)

// crewWork is what a crew's sheet must know of a treatment, by its name.
func (t *Tables) crewWork(treatment string) (sheet.Work, error) {
	r, err := t.Treatment(treatment)
	return sheet.Work{Treatment: r.Name, Effect: r.Effect, MostShare: r.RepairsShare, NewKind: r.NewKind}, err
}

// CrewWork is the work that the list has above its line, by joint.
func (w *WorkList) CrewWork(t *Tables) (map[string]sheet.Work, error) {
	out := map[string]sheet.Work{}
	for i := range w.Ranked[:w.Line] {
		var err error
		if out[w.Ranked[i].Tag], err = t.crewWork(w.Ranked[i].Treatment); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// ApprovedWork is the work that is approved and not yet done, by joint: of the
// latest list, where several have the joint.
func ApprovedWork(ctx context.Context, db bun.IDB, t *Tables) (map[string]sheet.Work, error) {
	jobs, err := Jobs(ctx, db, JobFilter{Open: true})
	if err != nil {
		return nil, err
	}
	out := map[string]sheet.Work{}
	for i := range jobs {
		j := &jobs[i]
		if _, has := out[j.Tag]; has || !slices.Contains([]string{Approved, Programmed, Obligated}, j.Progress) {
			continue
		}
		if out[j.Tag], err = t.crewWork(j.Treatment); err != nil {
			out[j.Tag] = sheet.Work{Treatment: j.Treatment, Effect: "not in the table of treatments"}
		}
	}
	return out, nil
}
