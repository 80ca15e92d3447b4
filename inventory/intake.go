package inventory

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// Intake is what an import came to.
type Intake struct {
	File      string   `json:"file"`
	What      string   `json:"what"`      // what is counted below: bridges, joints, …
	Read      int      `json:"read"`      // rows or records of the file
	Added     int      `json:"added"`     // rows that are new on record
	Changed   int      `json:"changed"`   // rows on record that the file changed
	Unchanged int      `json:"unchanged"` // rows that were on record just so
	PassedBy  int      `json:"passed_by"` // rows that are not for this import
	Rejected  int      `json:"rejected"`  // bad rows left out, on request
	Notices   []string `json:"notices,omitempty"`

	Faults table.Faults `json:"-"` // of the rejected rows
}

// IntakeOptions say how an import deals with its file.
type IntakeOptions struct {
	// Bad receives the rows that cannot be taken, each with its reason, and the
	// import goes on without them. Without it a bad row ends the import with the
	// list of all faults, and nothing is kept.
	Bad io.Writer
	// Sheet is the sheet of a workbook to read; empty is the first.
	Sheet string
	// State is the two-digit FIPS code of bridges whose row names none.
	State string
	// AcceptOdd takes what is merely odd, and marks it.
	AcceptOdd bool
	// Today is the last day that anything can have happened on.
	Today Date
	// Tick is called now and then with the number of rows read since the last call.
	Tick func(rows int64)
}

const tickEvery = 1000

// Tell reports progress when another tickEvery rows have been read.
func (o IntakeOptions) Tell(read int) {
	if o.Tick != nil && read%tickEvery == 0 {
		o.Tick(tickEvery)
	}
}

// Rejects collects what is wrong with the rows of a file that is no table:
// into the error that ends the import, or on request into a CSV file of the
// rows left out.
type Rejects struct {
	Faults table.Faults
	Count  int

	out *csv.Writer
}

// NewRejects begins to collect as opt says. row names the cells that identify
// a row.
func NewRejects(opt IntakeOptions, row ...string) *Rejects {
	r := &Rejects{}
	if opt.Bad != nil {
		r.out = csv.NewWriter(opt.Bad)
		r.out.Write(append(append([]string{"line"}, row...), "problem"))
	}
	return r
}

// Add takes a bad row with its faults.
func (r *Rejects) Add(line int, faults []table.Fault, row ...string) {
	r.Count++
	var problems []string
	for _, f := range faults {
		r.Faults.Add(f)
		problems = append(problems, f.Error())
	}
	if r.out != nil {
		r.out.Write(append(append([]string{strconv.Itoa(line)}, row...), strings.Join(problems, "; ")))
	}
}

// Close ends the collection: with the error that lists the faults, unless
// bad rows were to be left out.
func (r *Rejects) Close() error {
	if r.out == nil {
		return r.Faults.Err()
	}
	r.out.Flush()
	return r.out.Error()
}

// Note adds a notice about n rows, if there are any.
func (in *Intake) Note(n int, what string) {
	if n > 0 {
		in.Notices = append(in.Notices, fmt.Sprintf("%d %s", n, what))
	}
}

// count is the number of rows of a table.
func count(ctx context.Context, tx *store.Tx, name string) (n int, err error) {
	err = tx.NewRaw("SELECT count(*) FROM "+name).Scan(ctx, &n)
	return n, err
}
