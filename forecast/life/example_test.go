package life_test

import (
	"fmt"

	"reseal/forecast/life"
)

// Ten seals of one kind (invented): some with a known life, some found failed
// between two inspections, some still in service.
func Example() {
	records := []life.Record{
		life.Exact(6.5), life.Exact(9), life.Exact(11.2),
		life.Between(8, 10), life.Between(12, 14), life.FailedBy(7),
		life.InService(5), life.InService(9), life.InService(12), life.InService(13),
	}
	fit, err := life.Estimate(records, life.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	median, err := fit.Quantile(0.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	low, high := median.Interval(0.9)
	fmt.Printf("%g of 10 failed; half fail by %.1f years (90 %% interval %.1f to %.1f)\n",
		fit.Counts.Failed(), median.Value, low, high)
	// Output:
	// 6 of 10 failed; half fail by 10.7 years (90 % interval 8.8 to 13.0)
}
