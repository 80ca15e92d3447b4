package forecast

import (
	"fmt"
	"maps"
	"slices"
)

// NotJudged says in words how many joints count for nothing, and why.
func NotJudged(reasons map[Reason]int, noLength int) (lines []string) {
	for _, reason := range slices.Sorted(maps.Keys(reasons)) {
		lines = append(lines, fmt.Sprintf("left out: %s %s", someJoints(reasons[reason]), reason))
	}
	if noLength > 0 {
		lines = append(lines, fmt.Sprintf("left out: %s without a length on record, and so without a cost", someJoints(noLength)))
	}
	return lines
}

// LeftOut says in words which joints are not on the list, and why, and what was
// assumed.
func (w *WorkList) LeftOut() []string {
	lines := NotJudged(w.NoForecast, w.NoLength)
	for _, why := range []struct {
		joints int
		format string
	}{
		{w.WaitingPays, "not listed: %s whose waiting another year costs nothing"},
		{w.ByProject, "not listed: %s that a committed bridge project renews soon enough"},
		{w.ByWarranty, "not listed: %s to be claimed under warranty now; see reseal claim"},
		{w.NoDeicing, "assumed: " + AssumedDeicing + " deicing at %s whose bridge has none on record"},
	} {
		if why.joints > 0 {
			lines = append(lines, fmt.Sprintf(why.format, someJoints(why.joints)))
		}
	}
	return lines
}

func someJoints(n int) string {
	if n == 1 {
		return "1 joint"
	}
	return fmt.Sprintf("%d joints", n)
}
