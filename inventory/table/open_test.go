package table

import (
	"compress/gzip"
	"errors"
	"math"
	"os"
	"testing"
)

// TestOpenBridgeFile reads a real file (testdata/open/README.md names its
// source) and compares with the figures that testdata/table/ontario.py gives
// by Python's csv module.
func TestOpenBridgeFile(t *testing.T) {
	f, err := os.Open("../../testdata/open/ontario-bridge-index-a.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	text, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	const (
		bridge = iota
		index
		length
		rehab
	)
	r, err := NewReader(text, "bridges.csv", []Column{
		bridge: {Name: "bridge", Required: true},
		index:  {Name: "bci", Kind: Float, Min: 0, Max: 100},
		length: {Name: "deck_length_ft", Kind: Length},
		rehab:  {Name: "last_major_rehab", Kind: Date},
	}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows, blank := 0, 0
	bridges := make(map[string]bool)
	var indexSum, lengthFt float64
	for row := range r.Rows() {
		rows++
		name, _ := row.Text(bridge)
		bridges[name] = true
		v, _ := row.Float(index)
		indexSum += v
		v, _ = row.Float(length)
		lengthFt += v
		if _, ok := row.Date(rehab); !ok {
			blank++
		}
	}
	if err := errors.Join(r.Err(), r.Faults().Err()); err != nil {
		t.Fatal(err)
	}
	if rows != 9158 || len(bridges) != 1463 || blank != 3748 {
		t.Errorf("got %d rows, %d bridges, %d without rehabilitation, want 9158, 1463, 3748", rows, len(bridges), blank)
	}
	if want := 666195.9; math.Abs(indexSum-want) > 1e-6 {
		t.Errorf("index total: got %v, want %v", indexSum, want)
	}
	if want := 624559.2 / 0.3048; math.Abs(lengthFt-want) > 1e-6*want {
		t.Errorf("length total: got %v ft, want %v ft", lengthFt, want)
	}
}
