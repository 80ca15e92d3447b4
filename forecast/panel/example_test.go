package panel_test

import (
	"fmt"
	"strings"

	"reseal/forecast/markov"
	"reseal/forecast/panel"
)

// Four subjects (invented) seen at irregular times in states 1 and 2.
func Example() {
	text := "subject,time,state\na,0,1\na,2,1\na,5,2\nb,0,1\nb,4,2\nc,1,1\nc,6,1\nd,0,1\nd,3,2\n"
	f, err := panel.Read(strings.NewReader(text), "four.csv", panel.Columns{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fit, err := f.Fit(panel.Options{Moves: markov.Worsening(2)})
	if err != nil {
		fmt.Println(err)
		return
	}
	r := fit.Report
	fmt.Printf("%d intervals; a mean stay of %.1f years (95 %% interval %.1f to %.1f); −2 log L %.3f\n",
		r.Intervals, r.Stays[0].MeanYears, r.Stays[0].Lower, r.Stays[0].Upper, r.MinusTwoLogL)
	// Output:
	// 5 intervals; a mean stay of 3.8 years (95 % interval 1.2 to 12.1); −2 log L 6.963
}
