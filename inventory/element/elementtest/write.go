// Package elementtest writes invented bridge element submissions of any size,
// for tests and benchmarks. No bridge in them exists.
package elementtest

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
)

// RecordsPerBridge is how many elements each bridge has.
const RecordsPerBridge = 8

// elements are a bridge's, each with the largest quantity drawn for it; the
// joint among them is drawn apart.
var elements = [RecordsPerBridge - 1]struct{ number, most int }{
	{12, 40000}, {107, 4000}, {205, 30}, {215, 200}, {234, 400}, {310, 60}, {515, 90000},
}

// Write writes the given number of records. The same seed gives the same bytes.
// Structure numbers are the bridge's number in six digits after a letter I, for
// invented, as package nbitest writes them. About one record in a thousand has
// condition states that miss the total.
func Write(w io.Writer, state string, records int, seed uint64) error {
	out := bufio.NewWriterSize(w, 1<<16)
	rng := rand.New(rand.NewPCG(seed, 2))
	out.WriteString("<?xml version=\"1.0\" standalone=\"yes\"?>\r\n<FHWAELEMENT>\r\n")
	for n := range records {
		number, most, parent := 300+rng.IntN(7), 300, ""
		if i := n % RecordsPerBridge; i < len(elements) {
			number, most = elements[i].number, elements[i].most
		}
		if number == 515 {
			parent = "    <EPN>107</EPN>\r\n"
		}
		total := 1 + rng.IntN(most)
		var states [4]int
		left := total
		for i := 3; i > 0; i-- {
			states[i] = rng.IntN(left/4 + 1)
			left -= states[i]
		}
		states[0] = left
		if rng.IntN(1000) == 0 {
			total++
		}
		fmt.Fprintf(out, "  <FHWAED>\r\n    <STATE>%s</STATE>\r\n    <STRUCNUM>I%06d</STRUCNUM>\r\n    <EN>%d</EN>\r\n%s"+
			"    <TOTALQTY>%d</TOTALQTY>\r\n    <CS1>%d</CS1>\r\n    <CS2>%d</CS2>\r\n    <CS3>%d</CS3>\r\n    <CS4>%d</CS4>\r\n  </FHWAED>\r\n",
			state, n/RecordsPerBridge+1, number, parent, total, states[0], states[1], states[2], states[3])
	}
	out.WriteString("</FHWAELEMENT>\r\n")
	return out.Flush()
}
