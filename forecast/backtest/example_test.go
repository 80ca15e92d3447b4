package backtest_test

import (
	"fmt"

	"reseal/forecast/backtest"
)

// Forty joints on twenty bridges (invented): the model gives 80 % to those that
// had failed two years later and 10 % to the others, a rival the same to all.
func Example() {
	var cases []backtest.Case
	for i := range 40 {
		c := backtest.Case{Cluster: int64(i / 2), Kind: "strip seal", YearsAhead: 2, Failed: i%4 == 0, Forecasts: []float64{0.1, 0.25}}
		if c.Failed {
			c.Forecasts[backtest.Model] = 0.8
		}
		cases = append(cases, c)
	}
	r, err := backtest.Judge([]string{"the model", "the same for all"}, "seal", cases)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Groups[0].Rows[1].BrierGain.Verdict)
	fmt.Println(r.Words[0])
	// Output:
	// better
	// the model is better than "the same for all" (log score lower by 0.4275, 95 % interval 0.3098 to 0.5453, 40 cases on 20 bridges)
}
