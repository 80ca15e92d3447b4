package score_test

import (
	"fmt"

	"reseal/forecast/score"
)

// Thirty invented joints on fifteen bridges: the model says 80 % for those that
// fail and 10 % for the others, a rival says 40 % for all.
func Example() {
	var cases []score.Case
	var model, rival []float64
	for i := range 30 {
		failed := i%3 == 0
		p := 0.1
		if failed {
			p = 0.8
		}
		cases = append(cases, score.Case{Bridge: int64(i / 2), Failed: failed})
		model = append(model, p)
		rival = append(rival, 0.4)
	}
	c, err := score.Compare(cases, model, rival, score.Brier)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.Words("the same for all"))
	// Output:
	// the model is better than "the same for all" (Brier score lower by 0.2067, 95 % interval 0.1837 to 0.2296, 30 cases on 15 bridges)
}
