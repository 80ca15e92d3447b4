package table

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
)

var benchSizes = []int{1_000, 10_000, 100_000}

// writeInvented writes n invented rows of all the test columns.
func writeInvented(b *testing.B, w *Writer, n int) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range n {
		w.Text(colTag, fmt.Sprintf("J-%06d", i))
		w.Text(colKind, testColumns[colKind].Enum[rnd.IntN(3)])
		w.Float(colLength, 20+float64(rnd.IntN(800))/10)
		w.Float(colGap, 0.5+float64(rnd.IntN(30))/8)
		w.Float(colTemp, float64(rnd.IntN(100)))
		w.Int(colLanes, 1+rnd.IntN(4))
		w.Date(colInstalled, CivilDate{1980 + rnd.IntN(45), 5, 1 + rnd.IntN(30)})
		w.Cents(colCost, rnd.Int64N(5_000_000))
		w.Float(colTruck, float64(rnd.IntN(400))/10)
		w.Bool(colLeaking, rnd.IntN(2) == 0)
		w.Text(colNote, "invented, for the benchmark")
		if err := w.EndRow(); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
}

func inventedCSV(b *testing.B, n int) []byte {
	var out bytes.Buffer
	w, err := NewCSV(&out, testColumns)
	if err != nil {
		b.Fatal(err)
	}
	writeInvented(b, w, n)
	return out.Bytes()
}

func perSecond(b *testing.B, n int) {
	b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
}

// readAll calls every getter of every row.
func readAll(b *testing.B, data []byte, n int) {
	r, err := NewReader(bytes.NewReader(data), "joints", testColumns, Options{})
	if err != nil {
		b.Fatal(err)
	}
	rows := 0
	for row := range r.Rows() {
		row.Text(colTag)
		row.Text(colKind)
		row.Float(colLength)
		row.Float(colGap)
		row.Float(colTemp)
		row.Int(colLanes)
		row.Date(colInstalled)
		row.Cents(colCost)
		row.Float(colTruck)
		row.Bool(colLeaking)
		row.Text(colNote)
		rows++
	}
	if err := errors.Join(r.Err(), r.Faults().Err(), r.Close()); err != nil || rows != n {
		b.Fatalf("got %d rows, error %v, want %d", rows, err, n)
	}
}

func BenchmarkReadCSV(b *testing.B) {
	for _, n := range benchSizes {
		data := inventedCSV(b, n)
		b.Run(fmt.Sprintf("table/rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				readAll(b, data, n)
			}
			perSecond(b, n)
		})
		// The floor: the same text cut into strings, none of them understood.
		b.Run(fmt.Sprintf("encoding-csv/rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				r := csv.NewReader(bytes.NewReader(data))
				r.ReuseRecord = true
				for {
					if _, err := r.Read(); errors.Is(err, io.EOF) {
						break
					} else if err != nil {
						b.Fatal(err)
					}
				}
			}
			perSecond(b, n)
		})
	}
}

func BenchmarkReadXLSX(b *testing.B) {
	for _, n := range benchSizes {
		var out bytes.Buffer
		w, err := NewXLSX(&out, "Joints", testColumns)
		if err != nil {
			b.Fatal(err)
		}
		writeInvented(b, w, n)
		b.Run(fmt.Sprintf("rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				readAll(b, out.Bytes(), n)
			}
			perSecond(b, n)
		})
	}
}

func BenchmarkWrite(b *testing.B) {
	for _, n := range benchSizes {
		b.Run(fmt.Sprintf("csv/rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w, err := NewCSV(io.Discard, testColumns)
				if err != nil {
					b.Fatal(err)
				}
				writeInvented(b, w, n)
			}
			perSecond(b, n)
		})
		b.Run(fmt.Sprintf("xlsx/rows=%d", n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w, err := NewXLSX(io.Discard, "Joints", testColumns)
				if err != nil {
					b.Fatal(err)
				}
				writeInvented(b, w, n)
			}
			perSecond(b, n)
		})
	}
}
