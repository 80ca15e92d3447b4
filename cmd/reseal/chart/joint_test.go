package chart

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
)

func TestChartsOfAJointAreWhole(t *testing.T) {
	opening := Opening{
		Line:     []OpeningAt{{TempF: 0, GapIn: 2, LowIn: 1.8, HighIn: 2.2}, {TempF: 100, GapIn: 1, LowIn: 0.8, HighIn: 1.2}},
		Readings: []OpeningAt{{TempF: 50, GapIn: 1.5, Tip: "1.50 in & 50 °F"}}, MinIn: 0.5, MaxIn: 2.5, ColdF: 0, HotF: 100,
	}
	for name, c := range map[string]struct {
		svg  string
		want []string
	}{
		"time line": {
			TimeLine(Frame{Title: "t"}, 2000, 2030, 2026, TimeRow{
				Name: "Seal", Spans: []TimeSpan{{From: 2010, To: 2026, Name: "strip seal", Tip: "since 2010"}},
				Marks: []TimeMark{{At: 2012, Kind: 3, Tip: "struck <once>"}},
			}),
			[]string{"strip seal", "since 2010", "struck &lt;once&gt;", "today", ">2010<"},
		},
		"nothing happened": {TimeLine(Frame{Title: "t"}, 2000, 2000, 2026), []string{">2000<"}},
		"stack": {
			Stack(Frame{Title: "t"}, []string{"2024", "2026"}, 1, Series{Name: "CS1", Values: []float64{40, 30}}, Series{Name: "CS4", Values: []float64{0, 10}}),
			[]string{"2024, CS1: 40", "expected 2026, CS4: 10", "expected"},
		},
		"chance": {
			Chance(Frame{Title: "t"}, []int{2026, 2027, 2028}, []float64{0.1, 0.5, 1}, 2026, 2027, 0),
			[]string{"by the end of 2027: 50 %", ">2027<"},
		},
		"beyond the years": {Chance(Frame{Title: "t"}, []int{2026, 2027}, []float64{0, 0.1}, 0, 0, 0), []string{"by the end of 2027: 10 %"}},
		"opening":          {opening.Plot(Frame{Title: "t"}), []string{"1.50 in &amp; 50 °F", "coldest 0 °F", "seal&#39;s largest opening 2.50 in"}},
		"nothing known":    {new(Opening).Plot(Frame{Title: "t"}), []string{"<svg"}},
	} {
		t.Run(name, func(t *testing.T) {
			whole(t, c.svg)
			for _, want := range c.want {
				if !strings.Contains(c.svg, want) {
					t.Errorf("got %s, want %q in it", c.svg, want)
				}
			}
		})
	}
}

// Where the seal's largest opening is the top of the plot, its words stay clear
// of those of the hottest deck.
func TestWordsOfTheOpeningStayApart(t *testing.T) {
	o := Opening{Line: []OpeningAt{{TempF: 0, GapIn: 2, LowIn: 1.8, HighIn: 2.2}, {TempF: 100, GapIn: 1, LowIn: 0.8, HighIn: 1.2}}, MinIn: 0, MaxIn: 4, ColdF: 0, HotF: 100}
	svg := o.Plot(Frame{Title: "t"})
	at := map[string]float64{}
	for _, m := range regexp.MustCompile(`<text x="[^"]*" y="([^"]*)"[^>]*>(hottest|seal&#39;s largest|seal&#39;s smallest)`).FindAllStringSubmatch(svg, -1) {
		at[m[2]], _ = strconv.ParseFloat(m[1], 64)
	}
	if d := at["seal&#39;s largest"] - at["hottest"]; d < fontPx {
		t.Errorf("the words of the largest opening and of the hottest deck are %g px apart, want a line's height", d)
	}
	if bottom := 300 - marginBottom; at["seal&#39;s smallest"] > bottom {
		t.Errorf("the words of the smallest opening are below the plot: %g, want at most %g", at["seal&#39;s smallest"], bottom)
	}
}
