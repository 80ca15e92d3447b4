package forecast

import (
	"math"
	"slices"
	"testing"

	"reseal/inventory"
)

func on(t *testing.T, text string) inventory.Date {
	t.Helper()
	d, err := inventory.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// stretchRecord is a joint of 40 ft with one stretch.
func stretchRecord(seals []Seal, work []Work, looks ...Look) *Record {
	return &Record{ID: 1, LengthFt: 40, Stretches: []Stretch{{ID: 1, ToFt: 40, Seals: seals}}, Work: work, Looks: looks}
}

func seen(day inventory.Date, ft ...float64) Look {
	return Look{On: day, Observed: true, Feet: []StretchFeet{{StretchID: 1, StateFt: [4]float64(ft)}}}
}

// One joint each, worked by hand: what a fit takes in of it, and what it
// leaves out and why.
func TestLivesOfARecord(t *testing.T) {
	d := func(text string) inventory.Date { return on(t, text) }
	strip := func(installed string) Seal {
		s := Seal{Kind: "strip seal"}
		if installed != "" {
			s.Installed = d(installed)
		}
		return s
	}
	good, fair := []float64{40, 0, 0, 0}, []float64{30, 10, 0, 0}
	year := func(n float64) float64 { return n * 365 / 365.25 } // no leap day in 2021 to 2023
	for _, test := range []struct {
		name    string
		record  *Record
		lives   int
		spans   []sealSpan // of the last life
		ages    []float64
		leftOut map[string]int
	}{
		{
			"from new to the first inspection", stretchRecord([]Seal{strip("2021-05-01")}, nil, seen(d("2022-05-01"), good...), seen(d("2023-05-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: asNew}, {years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			nil, nil,
		},
		{
			"older than the records", stretchRecord([]Seal{strip("2010-05-01")}, nil, seen(d("2022-05-01"), good...), seen(d("2023-05-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			[]float64{12},
			nil,
		},
		{
			"no date of its own", stretchRecord([]Seal{strip("2021-05-01")}, nil, Look{On: d("2022-12-31"), Feet: seen(d("2022-12-31"), fair...).Feet}),
			1, nil, nil,
			map[string]int{DateUnknown: 1},
		},
		{
			"better with no work", stretchRecord([]Seal{strip("2010-05-01")}, nil, seen(d("2021-05-01"), fair...), seen(d("2022-05-01"), good...), seen(d("2023-05-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			[]float64{11},
			map[string]int{NoWorkFound: 1},
		},
		{
			"a foot better is counting", stretchRecord([]Seal{strip("2010-05-01")}, nil, seen(d("2021-05-01"), 30, 10, 0, 0), seen(d("2022-05-01"), 31, 9, 0, 0)),
			1,
			[]sealSpan{{years: year(1), before: [4]float64{0.75, 0.25}, after: [4]float64{0.75, 0.25}}},
			[]float64{11},
			nil,
		},
		{
			"the length seen changed", stretchRecord([]Seal{strip("2010-05-01")}, nil, seen(d("2021-05-01"), good...), seen(d("2022-05-01"), 30, 0, 0, 0)),
			1, nil,
			[]float64{11},
			map[string]int{LengthChanged: 1},
		},
		{
			"a new seal begins a life", stretchRecord([]Seal{{Kind: "strip seal", Installed: d("2010-05-01"), Removed: d("2022-05-01")}, strip("2022-05-01")},
				[]Work{{On: d("2022-05-01"), Treatment: "reseal", NewSeal: true}}, seen(d("2021-05-01"), fair...), seen(d("2023-05-01"), good...)),
			2,
			[]sealSpan{{years: year(1), before: asNew, after: asNew}},
			nil, nil,
		},
		{
			"worn out unseen", stretchRecord([]Seal{{Kind: "strip seal", Installed: d("2010-05-01"), Removed: d("2022-05-01"), RemovedWhy: inventory.RemovedForWear}, strip("2022-05-01")},
				[]Work{{On: d("2022-05-01"), Treatment: "reseal", NewSeal: true}}, seen(d("2021-05-01"), fair...), seen(d("2023-05-01"), good...)),
			2,
			[]sealSpan{{years: year(1), before: asNew, after: asNew}},
			nil,
			map[string]int{RemovedUnseen: 1},
		},
		{
			// 10 of 40 ft made new a year after the inspection, the worst first; the
			// interval begins a quarter of a year after it
			"a repair resets its feet", stretchRecord([]Seal{strip("2010-05-01")}, []Work{{On: d("2022-05-01"), Treatment: "patch", ToFt: 10}},
				seen(d("2021-05-01"), 20, 10, 5, 5), seen(d("2023-05-01"), 20, 20, 0, 0)),
			1,
			[]sealSpan{{years: year(1.75), before: [4]float64{0.75, 0.25}, after: [4]float64{0.5, 0.5}}},
			[]float64{11},
			nil,
		},
		{
			"a plate changes nothing", stretchRecord([]Seal{strip("2010-05-01")}, []Work{{On: d("2021-09-01"), Treatment: inventory.TemporaryPlate, ToFt: 12}},
				seen(d("2021-05-01"), good...), seen(d("2022-05-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			[]float64{11},
			nil,
		},
		{
			"work of unknown result", stretchRecord([]Seal{strip("2010-05-01")}, []Work{{On: d("2021-09-01"), Treatment: "adjust"}},
				seen(d("2021-05-01"), fair...), seen(d("2022-05-01"), good...), seen(d("2023-05-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			[]float64{11},
			map[string]int{ResultUnknown: 1},
		},
		{
			"installation not on record", stretchRecord([]Seal{strip("")}, nil, seen(d("2021-01-01"), good...), seen(d("2022-01-01"), fair...)),
			1,
			[]sealSpan{{years: year(1), before: asNew, after: [4]float64{0.75, 0.25}}},
			[]float64{3.42, 8.25, 13, 18, 22.75, 27.5},
			nil,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := &collector{recordsSince: d("2020-01-01"), leftOut: map[string]int{}}
			c.read(test.record)
			if len(c.lives) != test.lives {
				t.Fatalf("got %d lives, want %d", len(c.lives), test.lives)
			}
			l := c.lives[len(c.lives)-1]
			if len(l.spans) != len(test.spans) {
				t.Fatalf("got intervals %v, want %v", l.spans, test.spans)
			}
			for i, want := range test.spans {
				got := l.spans[i]
				if math.Abs(got.years-want.years) > 0.01 || !close4(got.before, want.before) || !close4(got.after, want.after) {
					t.Errorf("interval %d: got %+v, want %+v", i, got, want)
				}
			}
			if len(l.start.ages) != len(test.ages) {
				t.Fatalf("got ages %v, want %v", l.start.ages, test.ages)
			}
			for i, want := range test.ages {
				if math.Abs(l.start.ages[i]-want) > 0.1 {
					t.Errorf("got ages %v, want %v", l.start.ages, test.ages)
				}
			}
			for reason, n := range c.leftOut {
				if test.leftOut[reason] != n {
					t.Errorf("left out %d %s, want %d", n, reason, test.leftOut[reason])
				}
			}
			if len(c.leftOut) != len(test.leftOut) {
				t.Errorf("left out %v, want %v", c.leftOut, test.leftOut)
			}
		})
	}
}

// With rating errors, feet one state better without work stay in use; those
// that got better by more than errors can tell are work that nobody recorded.
func TestImprovementAsRatingError(t *testing.T) {
	d := func(text string) inventory.Date { return on(t, text) }
	seal := []Seal{{Kind: "strip seal", Installed: d("2020-05-01")}}
	for _, test := range []struct {
		name    string
		looks   []Look
		joined  []bool // by interval
		better  []bool
		leftOut int
	}{
		{
			"one state better",
			[]Look{seen(d("2021-05-01"), 20, 20, 0, 0), seen(d("2022-05-01"), 40, 0, 0, 0), seen(d("2023-05-01"), 20, 20, 0, 0)},
			[]bool{false, true, true},
			[]bool{false, true, false},
			0,
		},
		{
			"two states better",
			[]Look{seen(d("2021-05-01"), 20, 0, 20, 0), seen(d("2022-05-01"), 40, 0, 0, 0), seen(d("2023-05-01"), 20, 20, 0, 0)},
			[]bool{false, false},
			[]bool{false, false},
			1,
		},
		{
			"one state at a time, three in all",
			[]Look{
				seen(d("2021-05-01"), 0, 0, 0, 40), seen(d("2022-05-01"), 0, 0, 40, 0), seen(d("2023-05-01"), 0, 40, 0, 0), seen(d("2024-05-01"), 40, 0, 0, 0),
			},
			[]bool{false, true, false},
			[]bool{false, true, true},
			1,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := &collector{ratingErrors: true, recordsSince: d("2020-01-01"), leftOut: map[string]int{}}
			c.read(stretchRecord(seal, nil, test.looks...))
			var joined, better []bool
			for _, s := range c.lives[0].spans {
				joined, better = append(joined, s.joined), append(better, s.improved)
			}
			if !slices.Equal(joined, test.joined) || !slices.Equal(better, test.better) || c.leftOut[NoWorkFound] != test.leftOut {
				t.Errorf("joined %v, better %v, left out %v; want %v, %v, %d", joined, better, c.leftOut, test.joined, test.better, test.leftOut)
			}
		})
	}
}

// Which lives of a joint are one site's, and how many new seals lie between
// them.
func TestLivesOfASite(t *testing.T) {
	d := func(text string) inventory.Date { return on(t, text) }
	seal := func(from, to string) Seal {
		s := Seal{Kind: "strip seal", Installed: d(from)}
		if to != "" {
			s.Removed = d(to)
		}
		return s
	}
	worn := []float64{20, 20, 0, 0}
	three := []Seal{seal("2010-05-01", "2021-06-01"), seal("2021-06-01", "2021-09-01"), seal("2021-09-01", "")}
	for _, test := range []struct {
		name   string
		record *Record
		want   []int
	}{
		{"one seal", stretchRecord(three[2:], nil, seen(d("2022-05-01"), worn...)), []int{0}},
		{"each was seen", stretchRecord(three, nil, seen(d("2021-05-01"), worn...), seen(d("2021-08-01"), worn...), seen(d("2022-05-01"), worn...)), []int{0, 1, 1}},
		{"the middle one was not", stretchRecord(three, nil, seen(d("2021-05-01"), worn...), seen(d("2022-05-01"), worn...)), []int{0, 2}},
		{"the first was not", stretchRecord(three, nil, seen(d("2021-08-01"), worn...), seen(d("2022-05-01"), worn...)), []int{0, 1}},
		{"nothing was seen", stretchRecord(three, nil), nil},
	} {
		c := &collector{recordsSince: d("2020-01-01"), leftOut: map[string]int{}}
		c.read(test.record)
		use, after := inUse(c.lives)
		if !slices.Equal(after, test.want) || len(use) != len(after) {
			t.Errorf("%s: %d lives, renewals %v, want %v", test.name, len(use), after, test.want)
		}
	}
	apart := stretchRecord(three[2:], nil, seen(d("2022-05-01"), worn...))
	apart.Stretches = append(apart.Stretches, Stretch{ID: 2, FromFt: 40, ToFt: 80, Seals: three[2:]})
	apart.Looks[0].Feet = append(apart.Looks[0].Feet, StretchFeet{StretchID: 2, StateFt: [4]float64(worn)})
	c := &collector{recordsSince: d("2020-01-01"), leftOut: map[string]int{}}
	c.read(apart)
	if _, after := inUse(c.lives); !slices.Equal(after, []int{0, 0}) {
		t.Errorf("two stretches side by side: renewals %v, want none", after)
	}
}

// A seal older than the records had replaced another unless it is as old as its
// bridge.
func TestSealsThatReplacedOthers(t *testing.T) {
	installed := on(t, "1995-06-01")
	c := &collector{recordsSince: on(t, "2012-01-01")}
	for built, want := range map[int]bool{1970: true, 1995: false, 1994: true, 0: true} {
		r := &Record{Bridge: Site{BuiltYear: built}}
		s := c.startOf(r, Seal{Installed: installed}, on(t, "2012-06-01"), asNew)
		if got := s.possible()[0].Replaced; got != want {
			t.Errorf("installed in 1995 on a bridge built in %d: replaced another %v, want %v", built, got, want)
		}
	}
}

func close4(a, b [4]float64) bool {
	for i := range a {
		if math.Abs(a[i]-b[i]) > 1e-9 {
			return false
		}
	}
	return true
}
