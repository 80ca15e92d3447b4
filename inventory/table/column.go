package table

import (
	"fmt"
	"strings"
	"unicode"
)

// Kind says what the cells of a column hold.
type Kind uint8

// The kinds of column. Lengths, temperatures, money and percentages have a
// unit, which is the end of the column's name (length_ft, deck_temp_f,
// cost_usd, truck_pct).
const (
	Text        Kind = iota // any text; with Enum, one of a list
	Int                     // a whole number
	Float                   // a finite number without a unit
	Length                  // a finite number of ft, in, yd, mi, m, mm, cm or km
	Temperature             // a finite number of degrees, f or c
	Money                   // dollars in the file, int64 cents in the program
	Percent                 // 12.5 or 12.5% is twelve and a half of a hundred
	Date                    // a civil date, ISO 8601: YYYY-MM-DD, YYYY-MM or YYYY
	Bool                    // yes or no
)

var kindNames = [...]string{
	"text", "whole number", "number", "length", "temperature", "money", "percent", "date", "yes or no",
}

// String returns the kind as a word for a reader of help texts.
func (k Kind) String() string { return kindNames[k] }

// Column declares one column of a table. Name is required, the rest may stay
// zero.
type Column struct {
	// Name is how the column is written in a template and in messages, with its
	// unit at the end where it has one: length_ft.
	Name string
	Kind Kind
	// Required columns must be in the header and must not be blank in any row.
	Required bool
	// Named columns have the name that a person said the file has: they must be in
	// the header, and where one is not the person's word is wrong, not the file.
	Named bool
	// Synonyms are other headers of the same column, with or without a unit.
	Synonyms []string
	// Enum lists the only texts allowed; case and punctuation of the file do not
	// matter, the spelling given here is returned.
	Enum []string
	// Min and Max bound a number, inclusive, in the unit of Name; both zero is
	// no bound, and an infinity leaves one side open. Money is in dollars.
	Min, Max float64
	// Help is one sentence for people who fill in the table.
	Help string
	// Example is a cell as it could stand in the file.
	Example string
}

// bounded reports whether Min and Max apply.
func (c *Column) bounded() bool { return c.Min != 0 || c.Max != 0 }

// base returns the name without its unit, and the unit; the unit is nil for
// kinds without one.
func (c *Column) base() (string, *unit) { return splitUnit(c.Name, c.Kind) }

// unit of a measured quantity. A value v of it is v*scale+offset in the unit
// that all units of its kind are counted in.
type unit struct {
	kind    Kind
	symbol  string
	aliases []string
	scale   float64
	offset  float64
}

// Lengths are counted in micrometres, so that every scale is a whole number;
// the foot is the international one, 0.3048 m exactly (National Bureau of
// Standards, "Refinement of values for the yard and the pound", 1959), which
// differs from the US survey foot by two parts in a million. Temperatures are
// counted in degrees Fahrenheit.
var units = []unit{
	{Length, "ft", []string{"ft", "foot", "feet"}, 304800, 0},
	{Length, "in", []string{"in", "inch", "inches"}, 25400, 0},
	{Length, "yd", []string{"yd", "yard", "yards"}, 914400, 0},
	{Length, "mi", []string{"mi", "mile", "miles"}, 1609344000, 0},
	{Length, "m", []string{"m", "metre", "metres", "meter", "meters"}, 1e6, 0},
	{Length, "mm", []string{"mm", "millimetre", "millimetres", "millimeter", "millimeters"}, 1e3, 0},
	{Length, "cm", []string{"cm", "centimetre", "centimetres", "centimeter", "centimeters"}, 1e4, 0},
	{Length, "km", []string{"km", "kilometre", "kilometres", "kilometer", "kilometers"}, 1e9, 0},
	{Temperature, "°F", []string{"f", "degf", "fahrenheit"}, 1, 0},
	{Temperature, "°C", []string{"c", "degc", "celsius"}, 1.8, 32},
	{Money, "$", []string{"usd", "dollar", "dollars"}, 1, 0},
	{Percent, "%", []string{"pct", "percent"}, 1, 0},
}

// convert takes v from one unit to another of the same kind.
func convert(v float64, from, to *unit) float64 {
	if from == to {
		return v
	}
	return (v*from.scale + from.offset - to.offset) / to.scale
}

// splitUnit takes the unit off the end of a name: length_ft is length and ft.
func splitUnit(name string, kind Kind) (string, *unit) {
	words := words(name)
	if n := len(words); n > 1 {
		for i := range units {
			if u := &units[i]; u.kind == kind && u.named(words[n-1]) {
				return strings.Join(words[:n-1], "_"), u
			}
		}
	}
	return strings.Join(words, "_"), nil
}

func (u *unit) named(word string) bool {
	for _, a := range u.aliases {
		if a == word {
			return true
		}
	}
	return false
}

// signs are the marks that stand for a word in a header.
var signs = strings.NewReplacer("%", " pct ", "$", " usd ", "#", " number ", "°", " deg")

// words splits a header into its lower-case words.
func words(header string) []string {
	return strings.FieldsFunc(strings.ToLower(signs.Replace(header)), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	})
}

// plain is a header as it is compared: lower-case letters and digits only.
func plain(header string) string { return strings.Join(words(header), "") }

// checkColumns stops at a declaration that should carry a unit and does not: a
// mistake of the programmer, found when the table is first opened.
func checkColumns(columns []Column) {
	for i := range columns {
		c := &columns[i]
		if _, u := c.base(); u == nil && c.Kind >= Length && c.Kind <= Percent {
			panic(fmt.Sprintf("table: the name of column %q must end in its unit", c.Name))
		}
	}
}
