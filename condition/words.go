package condition

import "fmt"

// Likely is a probability, 0 to 1, in per cent for people: nothing that is
// projected is certain, and nothing is out of the question.
func Likely(p float64) string {
	switch {
	case p < 0.01:
		return "under 1 %"
	case p > 0.99:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}
