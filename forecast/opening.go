package forecast

import (
	"context"
	"fmt"

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
	ids := make([]int64, len(records))
	for i := range records {
		ids[i] = records[i].ID
	}
	// Most joints of most agencies have no reading: leave them be.
	var read []int64
	in := list(ids)
	err := db.NewRaw(`SELECT joint_id FROM readings WHERE joint_id IN (SELECT value FROM json_each(?)) UNION SELECT t.joint_id FROM stretches t
		JOIN seals s ON s.stretch_id = t.id AND s.installed_gap_in IS NOT NULL WHERE t.joint_id IN (SELECT value FROM json_each(?))`, in, in).Scan(ctx, &read)
	if err != nil {
		return err
	}
	gaps, err := condition.Gaps(ctx, db, m.tables.Gaps, read, asOf)
	if err != nil {
		return err
	}
	at := make(map[int64]*condition.Gap, len(gaps))
	for i := range gaps {
		at[gaps[i].ID] = &gaps[i]
	}
	for i := range records {
		records[i].Gap = at[records[i].ID]
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
