package chart

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

func Example() {
	svg := Bars(Frame{Title: "Money by year", Desc: "Invented: 1.0 and 1.4 million dollars.", Y: Dollars},
		[]string{"2027", "2028"},
		Series{Name: "planned", Values: []float64{1e6, 1.4e6}})
	fmt.Println(strings.Contains(svg, "<title>2028, planned: $1.4M</title>"))
	// Output: true
}

// whole fails unless the text is one well-formed svg element with a title and a
// description, unique ids, no outside reference, and only finite numbers.
func whole(t interface{ Fatalf(string, ...any) }, svg string) {
	d := xml.NewDecoder(strings.NewReader(svg))
	depth, roots := 0, 0
	ids := map[string]bool{}
	seen := map[string]bool{}
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, svg)
		}
		switch e := token.(type) {
		case xml.StartElement:
			if depth == 0 {
				roots++
			}
			depth++
			seen[e.Name.Local] = true
			for _, a := range e.Attr {
				switch {
				case a.Name.Local == "id" && ids[a.Value]:
					t.Fatalf("id %s twice", a.Value)
				case a.Name.Local == "id":
					ids[a.Value] = true
				case a.Name.Local == "style", a.Name.Local == "href":
					t.Fatalf("attribute %s", a.Name.Local)
				}
			}
		case xml.EndElement:
			depth--
		}
	}
	if roots != 1 || !seen["title"] || !seen["desc"] {
		t.Fatalf("%d roots, title %v, desc %v", roots, seen["title"], seen["desc"])
	}
	for _, never := range []string{"NaN", "Inf", "%!"} {
		if strings.Contains(svg, never) {
			t.Fatalf("%s in %s", never, svg)
		}
	}
}

// Any numbers give a whole chart.
func TestChartsAreWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 40).Draw(t, "labels")
		number := rapid.OneOf(rapid.Float64Range(-1e9, 1e12), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1)}))
		values := func(name string) []float64 {
			return rapid.SliceOfN(number, 0, n).Draw(t, name)
		}
		labels, x := make([]string, n), make([]float64, n)
		for i := range labels {
			labels[i], x[i] = rapid.String().Draw(t, "label"), float64(i)
			labels[i] = strings.ToValidUTF8(strings.Map(printable, labels[i]), "")
		}
		f := Frame{Title: "<a> & \"b\"", Desc: "'d'"}
		var series []Series
		for i := range rapid.IntRange(0, 5).Draw(t, "series") {
			series = append(series, Series{Name: fmt.Sprint("<", i), Values: values("v"), Low: values("low"), High: values("high")})
		}
		whole(t, Bars(f, labels, series...))
		whole(t, Bands(f, labels, series...))
		whole(t, Lines(f, x, series...))
		var layers []Layer
		for range rapid.IntRange(0, 4).Draw(t, "layers") {
			var l Layer
			for range rapid.IntRange(0, 5).Draw(t, "places") {
				l.At = append(l.At, orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-89, 89).Draw(t, "lat")})
			}
			layers = append(layers, l)
		}
		whole(t, Map(f, layers...))
	})
}

func printable(r rune) rune {
	if r < ' ' || r == '%' || r == 0xfffe || r == 0xffff {
		return -1
	}
	return r
}

func TestBarsStandWhereTheyShould(t *testing.T) {
	// The axis runs from 0 to 200 over the 194 px between top (62) and bottom (256):
	// 100 is half of it.
	svg := Bars(Frame{Title: "t"}, []string{"a", "b"}, Series{Name: "s", Values: []float64{100, 200}, Low: []float64{50, 200}, High: []float64{150, 200}})
	for _, want := range []string{`y="159" width="223.7" height="97"`, `y="62" width="223.7" height="194"`, "a, s: 100 (10-90 %: 50 to 150)", "V110.5"} {
		if !strings.Contains(svg, want) {
			t.Errorf("no %q in %s", want, svg)
		}
	}
}

// A degree of latitude is 69.09 statute miles on the sphere of the mean radius
// (6,371,008.8 m, IUGG).
func TestMapHasMiles(t *testing.T) {
	svg := Map(Frame{Title: "m"}, Layer{Name: "joints", At: []orb.Point{{-120, 45}, {-118, 46}, {-118, 46}}})
	if !strings.Contains(svg, "20 mi") || !strings.Contains(svg, "45.5° N") || !strings.Contains(svg, "joints: 3") {
		t.Errorf("no scale or grid: %s", svg)
	}
	if got := 2 * math.Pi * 6371008.8 / 360; math.Abs(got-metresPerDegree) > 0.01 {
		t.Errorf("metres of a degree: %v", got)
	}
	if n := strings.Count(svg, "l6 9.5"); n != 3 { // two places and the legend
		t.Errorf("marks: got %d, want 3", n)
	}
}

// Every series is named, on a narrow chart in more rows.
func TestLegendWraps(t *testing.T) {
	var series []Series
	for _, name := range []string{"CS4 severe", "CS3 poor", "CS2 fair", "CS1 good"} {
		series = append(series, Series{Name: name, Values: []float64{1}})
	}
	svg := Bands(Frame{Title: "narrow", WidthPx: 300}, []string{"2027"}, series...)
	for _, s := range series {
		if !strings.Contains(svg, ">"+s.Name+"</text>") {
			t.Errorf("no %s in the legend", s.Name)
		}
	}
	if _, rows := legendAt(names(series), 300); rows < 2 {
		t.Errorf("%d rows", rows)
	}
}

func TestNumber(t *testing.T) {
	for _, tt := range []struct {
		v    float64
		want string
	}{
		{0, "0"},
		{0.25, "0.25"},
		{-0.001, "0"},
		{12.34, "12.3"},
		{999, "999"},
		{1234, "1,234"},
		{-1234, "-1,234"},
		{9999.4, "9,999"},
		{34567, "34.6k"},
		{1.25e6, "1.25M"},
		{999_600, "1M"},
		{2.5e9, "2.5B"},
	} {
		if got := Number(tt.v); got != tt.want {
			t.Errorf("Number(%v): got %q, want %q", tt.v, got, tt.want)
		}
	}
	if got := Dollars(-1.2e6) + " " + Percent(0.255) + " " + Year(2027); got != "-$1.2M 25.5 % 2027" {
		t.Errorf("got %q", got)
	}
}

func BenchmarkMap(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			l := Layer{Name: "joints"}
			for i := range n {
				l.At = append(l.At, orb.Point{-120 + float64(i%317)/40, 45 + float64(i%211)/60})
			}
			b.ReportAllocs()
			for b.Loop() {
				Map(Frame{Title: "m"}, l)
			}
		})
	}
}
