package table_test

import (
	"fmt"
	"strings"

	"reseal/inventory/table"
)

func Example() {
	const (
		tag = iota
		length
		installed
	)
	columns := []table.Column{
		tag:       {Name: "tag", Required: true, Synonyms: []string{"joint"}},
		length:    {Name: "length_ft", Kind: table.Length, Required: true},
		installed: {Name: "installed", Kind: table.Date},
	}
	file := strings.NewReader("Joint,Length (m),Installed\nJ-1,12.192,2017-11-02\nJ-2,10,2017-13-02\n")

	r, err := table.NewReader(file, "joints.csv", columns, table.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer r.Close()
	for row := range r.Rows() {
		label, _ := row.Text(tag)
		feet, _ := row.Float(length)
		day, _ := row.Date(installed)
		if row.Bad() {
			continue
		}
		fmt.Printf("%s: %.1f ft, sealed %v\n", label, feet, day)
	}
	if err := r.Err(); err != nil {
		fmt.Println(err)
	}
	fmt.Println(r.Faults().Err())
	// Output:
	// J-1: 40.0 ft, sealed 2017-11-02
	// joints.csv line 3, column Installed: "2017-13-02" is not a date (YYYY-MM-DD)
}
