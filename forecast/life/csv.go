package life

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// maxFaults is how many faults ReadCSV lists before it only counts.
const maxFaults = 50

// ReadCSV reads records from a table with the columns left and right, in any
// order, and optionally entry and weight; other columns are ignored. A blank
// left means that the seal was found failed when first looked at; a blank right
// means that it was in service when last seen. Equal ages are an exact life.
//
// It lists every fault with its line, the first 50 in full, joined in one error
// that wraps [ErrInvalid]; the records read are returned only if there is none.
func ReadCSV(r io.Reader) ([]Record, error) {
	in := csv.NewReader(r)
	in.TrimLeadingSpace = true
	header, err := in.Read()
	switch {
	case err == io.EOF:
		return nil, errFile{errors.New("the file is empty: its first line names the columns")}
	case err != nil:
		return nil, errFile{fmt.Errorf("no header line: %w", err)}
	}
	column := func(name string) int {
		return slices.IndexFunc(header, func(h string) bool {
			return strings.EqualFold(strings.TrimSpace(strings.TrimPrefix(h, "\ufeff")), name)
		})
	}
	left, right := column("left"), column("right")
	if left < 0 || right < 0 {
		return nil, errFile{fmt.Errorf("line 1: the columns left and right are missing: it has %s", strings.Join(header, ", "))}
	}
	entry, weight := column("entry"), column("weight")

	var records []Record
	var faults []error
	unlisted := 0
	for {
		row, err := in.Read()
		if err == io.EOF {
			break
		}
		var record Record
		if err == nil {
			record, err = parseRow(row, left, right, entry, weight)
			if err != nil {
				line, _ := in.FieldPos(0)
				err = fmt.Errorf("line %d: %w", line, err)
			}
		}
		switch {
		case err == nil:
			records = append(records, record)
		case len(faults) < maxFaults:
			faults = append(faults, err)
		default:
			unlisted++
		}
		var unreadable *csv.ParseError
		if err != nil && !errors.As(err, &unreadable) && row == nil {
			break // the file itself cannot be read on
		}
	}
	if unlisted > 0 {
		faults = append(faults, fmt.Errorf("and %d more", unlisted))
	}
	if len(faults) > 0 {
		return nil, errFile{fmt.Errorf("invalid life records: %w", errors.Join(faults...))}
	}
	return records, nil
}

// errFile is a fault of a file, told in its own words.
type errFile struct{ error }

func (e errFile) Is(target error) bool { return target == ErrInvalid }
func (e errFile) Unwrap() error        { return e.error }

func parseRow(row []string, left, right, entry, weight int) (Record, error) {
	var err error
	number := func(column int, name string, blank float64) float64 {
		if column < 0 || strings.TrimSpace(row[column]) == "" {
			return blank
		}
		v, parseErr := strconv.ParseFloat(strings.TrimSpace(row[column]), 64)
		if parseErr != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			err = errors.Join(err, fmt.Errorf("column %s: %q is not a number", name, row[column]))
		}
		return v
	}
	r := Record{
		Low:    number(left, "left", 0),
		High:   number(right, "right", math.Inf(1)),
		Entry:  number(entry, "entry", 0),
		Weight: number(weight, "weight", 1),
	}
	switch {
	case err != nil:
		return r, err
	case r.Low == 0 && math.IsInf(r.High, 1):
		return r, errors.New("columns left and right: both blank, nothing is known")
	case r.Weight == 0:
		return r, errors.New("column weight: 0")
	}
	return r, r.fault()
}
