package opening_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"reseal/condition/opening"
)

// network is invented joints with five readings each.
func network(n int) []opening.Case {
	rng := rand.New(rand.NewPCG(7, 8))
	cases := make([]opening.Case, n)
	all := make([]opening.Reading, 5*n)
	for i := range cases {
		j := opening.Joint{ExpansionLengthFt: 40 + 500*rng.Float64(), SkewDeg: 30 * rng.Float64(), Material: opening.Material(rng.IntN(2))}
		w := draw(rng, j, rng.IntN(33) == 0, rng.IntN(10) == 0)
		w.a = 2 + 0.3*rng.NormFloat64()
		readings := all[5*i : 5*i+5 : 5*i+5]
		copy(readings, visits(rng, 5))
		w.measure(rng, j, readings)
		cases[i] = opening.Case{Joint: j, Limits: opening.Limits{MinIn: 0.5, MaxIn: 3.5}, Readings: readings}
	}
	return cases
}

func BenchmarkCheckAll(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			cases := network(n)
			out := make([]opening.Check, n)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := opening.CheckAll(context.Background(), cases, 2026.5, opening.Settings{}, 0, out); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}

func BenchmarkOutByYear(b *testing.B) {
	years := make([]float64, 20)
	for i := range years {
		years[i] = 2027.5 + float64(i)
	}
	lines := make([]opening.Line, 1000)
	for i, c := range network(len(lines)) {
		lines[i], _ = opening.Fit(c.Joint, c.Readings, opening.Settings{})
	}
	var dst []float64
	b.ReportAllocs()
	for b.Loop() {
		for i := range lines {
			dst = lines[i].OutByYear(dst[:0], opening.Limits{MinIn: 0.5, MaxIn: 3.5}, 2026.5, years)
		}
	}
	b.ReportMetric(float64(len(lines))*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
}

// TestCheckAllSameOnAnyWorkers also holds the network check against one joint
// at a time, and checks that a refused joint does not stop the rest.
func TestCheckAllSameOnAnyWorkers(t *testing.T) {
	cases := network(3000)
	cases[17].Readings = nil
	cases[1500].Joint.ExpansionLengthFt = 0
	var first []opening.Check
	for _, workers := range []int{1, 2, 3, 8} {
		out := make([]opening.Check, len(cases))
		refused, err := opening.CheckAll(context.Background(), cases, 2026.5, opening.Settings{}, workers, out)
		if err != nil || refused != 2 {
			t.Fatalf("%d workers: got %d not checked, error %v; want 2 and none", workers, refused, err)
		}
		if first == nil {
			first = out
		}
		if !slices.Equal(first, out) {
			t.Errorf("%d workers: the result differs from that of one", workers)
		}
	}
	for i, c := range cases {
		l, err := opening.Fit(c.Joint, c.Readings, opening.Settings{})
		want := opening.Check{Findings: opening.NotChecked}
		if err == nil {
			want = l.Judge(c.Limits, 2026.5, opening.Settings{})
		}
		if first[i] != want {
			t.Fatalf("joint %d: got %+v, want %+v", i, first[i], want)
		}
	}
}

func TestCheckAllStops(t *testing.T) {
	ctx, cancel := context.WithDeadline(context.Background(), time.Unix(0, 0))
	defer cancel()
	out := make([]opening.Check, 10)
	if _, err := opening.CheckAll(ctx, network(10), 2026.5, opening.Settings{}, 1, out); err == nil {
		t.Error("a context that is over: got no error")
	}
}

func TestCheckDoesNotAllocate(t *testing.T) {
	c := network(1)[0]
	got := testing.AllocsPerRun(100, func() {
		l, err := opening.Fit(c.Joint, c.Readings, opening.Settings{})
		if err != nil {
			t.Fatal(err)
		}
		l.Judge(c.Limits, 2026.5, opening.Settings{})
	})
	if got != 0 {
		t.Errorf("got %g allocations a joint, want 0", got)
	}
}
