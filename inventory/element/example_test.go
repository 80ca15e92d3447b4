package element_test

import (
	"context"
	"fmt"
	"strings"

	"reseal/inventory/element"
)

// An invented bridge.
func ExampleForEach() {
	file := `<FHWAELEMENT>
  <FHWAED><STATE>41</STATE><STRUCNUM>I000001</STRUCNUM><EN>301</EN>
    <TOTALQTY>80</TOTALQTY><CS1>50</CS1><CS2>20</CS2><CS3>8</CS3><CS4>2</CS4></FHWAED>
  <FHWAED><STATE>41</STATE><STRUCNUM>I000001</STRUCNUM><EN>310</EN>
    <TOTALQTY>12</TOTALQTY><CS1>8</CS1><CS2>4</CS2><CS3>0</CS3><CS4>0</CS4></FHWAED>
</FHWAELEMENT>`
	err := element.ForEach(context.Background(), strings.NewReader(file), func(r element.Record) error {
		if element.IsJoint(r.Element) {
			fmt.Printf("%v %s of %s, %v severe\n", r.TotalQty, element.UnitOf(r.Element), element.JointName(r.Element), r.StateQty[3])
		} else if part := element.HarmedByLeak(r.Element); part != "" {
			fmt.Printf("%v %ss below\n", r.TotalQty, part)
		}
		return nil
	})
	if err != nil {
		fmt.Println(err)
	}
	// Output:
	// 80 ft of pourable seal, 2 severe
	// 12 bearings below
}
