package forecast

import (
	"context"
	"fmt"
	"slices"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/forecast/markov"
	"reseal/inventory"
)

// loadGaps adds to the records what the opening check rests on. Without rules
// of it, forecasts are of deterioration alone.
func (m *Model) loadGaps(ctx context.Context, db bun.IDB, records []Record, asOf inventory.Date) error {
	if m.tables.Gaps == nil || len(records) == 0 {
		return nil
	}
	// Most joints of most agencies have no reading: leave them be.
	at := make(map[int64]*Record, len(records))
	var ids, read []int64
	for i := range records {
		r := &records[i]
		at[r.ID] = r
		if r.gapNoted {
			read = append(read, r.ID)
		}
		ids = append(ids, r.ID)
	}
	slices.Sort(ids)
	err := eachRow(ctx, db, func(row *row) {
		if r := at[row.int(0)]; r != nil && !r.gapNoted {
			read = append(read, r.ID)
		}
	}, "SELECT DISTINCT joint_id FROM readings WHERE "+among("joint_id", ids))
	if err != nil || len(read) == 0 {
		return err
	}
	slices.Sort(read)
	gaps, err := condition.Gaps(ctx, db, m.tables.Gaps, read, asOf)
	if err != nil {
		return err
	}
	for i := range gaps {
		at[gaps[i].ID].Gap = &gaps[i]
	}
	return nil
}

// joinOpening adds to the probabilities of failure by deterioration the one
// that the opening has left the seal's range by then, and keeps it in f. Years
// are decimal: the day of the forecast, and the ends of its years. A joint
// without a usable reading, or whose seal has no known limits, stays as it is.
func (m *projector) joinOpening(f *Forecast, g *condition.Gap, failed []float64) {
	if g == nil || g.Problem != "" || !g.Limits.Known() {
		return
	}
	line, err := g.Line(m.tables.Gaps)
	if err != nil {
		return
	}
	m.years = append(m.years[:0], f.AsOf.DecimalYear())
	for _, y := range f.Years {
		m.years = append(m.years, m.endOf(y).DecimalYear())
	}
	m.out = line.OutByYear(m.out[:0], g.Limits, m.years[0], m.years)
	f.OutOfRange = append([]float64(nil), m.out[1:]...)
	f.Worn = append([]float64(nil), failed[1:]...)
	if at := firstRenewal(f.planned, f.Years); at >= 0 { // a new seal is taken to fit its opening
		clear(m.out[at+1:])
		clear(f.OutOfRange[at:])
	}
	markov.JoinOpening(failed, m.out)
	f.Basis += fmt.Sprintf("; opening by %d readings", len(g.Readings))
	if len(g.Readings) == 1 {
		f.Basis = f.Basis[:len(f.Basis)-1]
	}
}

// Driver says which of wear and opening makes the failure by the end of a year
// likely, with both probabilities; empty where the opening was not looked at
// or adds next to nothing.
func (f *Forecast) Driver(year int) string {
	if len(f.OutOfRange) == 0 {
		return ""
	}
	i := min(max(year-f.Years[0], 0), len(f.OutOfRange)-1)
	worn, out := f.Worn[i], f.OutOfRange[i]
	switch {
	case out < 0.01:
		return ""
	case out > worn:
		return fmt.Sprintf("more by its opening (%s likely to leave the seal's range) than by wear (%s)", condition.Likely(out), condition.Likely(worn))
	default:
		return fmt.Sprintf("more by wear (%s) than by its opening (%s likely to leave the seal's range)", condition.Likely(worn), condition.Likely(out))
	}
}
