package nbi_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"testing"

	"reseal/inventory/nbi"
	"reseal/inventory/nbi/nbitest"
)

func BenchmarkForEach(b *testing.B) {
	sizes := []int{1_000, 10_000, 100_000}
	if os.Getenv("RESEAL_LONG") == "1" {
		sizes = append(sizes, 1_000_000)
	}
	for _, n := range sizes {
		var file bytes.Buffer
		if err := nbitest.Write(&file, "41", n, 1); err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(file.Len()))
			for b.Loop() {
				got := 0
				err := nbi.ForEach(context.Background(), bytes.NewReader(file.Bytes()), func(nbi.Record) error { got++; return nil })
				if err != nil || got != n {
					b.Fatalf("got %d rows, %v, want %d", got, err, n)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}
