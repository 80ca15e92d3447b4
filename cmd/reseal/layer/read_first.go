package layer

import (
	"context"
	"slices"
	"strings"

	"reseal/forecast"
	"reseal/inventory/store"
)

// Caution goes with a list of work, which sends people onto a deck.
const Caution = `CAUTION before anyone goes out: this list is a projection and replaces no inspection.
  Work on a live deck needs traffic control by the agency's standards and local codes, and the
  seal maker's instructions. Findings marked for review need a licensed engineer's judgement first.`

// DueCaution goes with a list of inspections.
const DueCaution = `CAUTION before anyone goes out: an inspection on a live deck needs traffic control by the
  agency's standards and local codes; measure gaps from a closed lane only. Findings marked for
  review need a licensed engineer's judgement first.`

// IllustrativeNote says which tables hold starting values, of those named or of all;
// empty: none does.
func IllustrativeNote(illustrative []string, of ...string) string {
	var on []string
	for _, name := range illustrative {
		if len(of) == 0 || slices.Contains(of, name) {
			on = append(on, name)
		}
	}
	if len(on) == 0 {
		return ""
	}
	return "ILLUSTRATIVE: rests on starting values that are no agency's own (" + strings.Join(on, ", ") +
		"); put in yours with: reseal settings table import " + on[0] + " FILE"
}

// readFirst gives a workbook what must be known of its rows before they are used. A
// layer that can be read back in has no such sheet.
func (l *rows[T]) readFirst(ctx context.Context, s *store.Store, to Sink) error {
	t, ok := to.(*Table)
	if !ok || l.caution == "" && !l.projected {
		return nil
	}
	notice, err := store.Notice(ctx, s.Read())
	if err != nil {
		return err
	}
	lines := []string{strings.Join(strings.Fields(l.caution), " "), notice}
	if l.projected {
		tables, err := forecast.LoadTables(ctx, s.Read())
		if err != nil {
			return err
		}
		lines = append(lines, IllustrativeNote(tables.Illustrative()))
	}
	lines = slices.DeleteFunc(lines, func(line string) bool { return line == "" })
	if len(lines) == 0 {
		return nil
	}
	return t.ReadFirst(lines)
}
