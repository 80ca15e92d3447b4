package element_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"testing"

	"reseal/inventory/element"
	"reseal/inventory/element/elementtest"
)

func BenchmarkForEach(b *testing.B) {
	sizes := []int{1_000, 10_000, 100_000}
	if os.Getenv("RESEAL_LONG") == "1" {
		sizes = append(sizes, 1_000_000)
	}
	for _, n := range sizes {
		var file bytes.Buffer
		if err := elementtest.Write(&file, "41", n, 1); err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("records=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(file.Len()))
			for b.Loop() {
				got := 0
				err := element.ForEach(context.Background(), bytes.NewReader(file.Bytes()), func(element.Record) error { got++; return nil })
				if err != nil || got != n {
					b.Fatalf("got %d records, %v, want %d", got, err, n)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
		})
	}
}

// BenchmarkStandardLibrary is the same file through the tokens of encoding/xml,
// without making records of them.
func BenchmarkStandardLibrary(b *testing.B) {
	const n = 10_000
	var file bytes.Buffer
	if err := elementtest.Write(&file, "41", n, 1); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	b.SetBytes(int64(file.Len()))
	for b.Loop() {
		d := xml.NewDecoder(bytes.NewReader(file.Bytes()))
		for {
			if _, err := d.RawToken(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
	}
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "records/s")
}
