package main

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"

	"reseal/condition"
	"reseal/inventory"
)

// asker asks one question after the other and repeats one that is not
// understood.
type asker struct {
	in  *bufio.Scanner
	out io.Writer
}

func newAsker(w world) *asker { return &asker{in: bufio.NewScanner(w.in), out: w.err} }

// ask asks until read takes the answer. A blank answer is the usual one.
func (a *asker) ask(question, usual string, read func(string) error) error {
	for {
		if usual != "" {
			fmt.Fprintf(a.out, "%s [%s]: ", question, usual)
		} else {
			fmt.Fprintf(a.out, "%s: ", question)
		}
		if !a.in.Scan() {
			return errNoAnswer
		}
		answer := strings.TrimSpace(a.in.Text())
		if answer == "" {
			answer = usual
		}
		if err := read(answer); err != nil {
			fmt.Fprintln(a.out, " ", err)
			continue
		}
		return nil
	}
}

// number asks for a number; blank with no usual answer leaves it unset.
func (a *asker) number(question, usual string, to *float64) (given bool, err error) {
	err = a.ask(question, usual, func(s string) error {
		if s == "" {
			return nil
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || v != v || v-v != 0 {
			return fmt.Errorf("%q is not a number", s)
		}
		*to, given = v, true
		return nil
	})
	return given, err
}

// questions fills in an entry, with last cycle's values beside each field.
func questions(a *asker, e *condition.Entry, k *condition.Known, inspector string) error {
	fmt.Fprintf(a.out, "joint %s, bridge %s, %s\n", k.Joint.Tag, k.Bridge.StructureNumber, k.Joint.Place)
	var last [4]float64
	if k.Last != nil {
		last = k.Last.StateFt()
		fmt.Fprintf(a.out, "last inspection %s: CS1 %g, CS2 %g, CS3 %g, CS4 %g ft\n", k.Last.InspectedOn, last[0], last[1], last[2], last[3])
	}
	if err := a.ask("day", k.Today.String(), func(s string) (err error) {
		e.InspectedOn, err = inventory.ParseDate(s)
		return err
	}); err != nil {
		return err
	}
	if err := a.ask("inspector", inspector, func(s string) error { e.Inspector = s; return nil }); err != nil {
		return err
	}
	if err := a.ask("seen from top, below or both", "top", func(s string) error {
		if s != "top" && s != "below" && s != "both" {
			return fmt.Errorf("answer top, below or both")
		}
		e.SeenFrom = s
		return nil
	}); err != nil {
		return err
	}
	for i, t := range k.Stretches {
		f := condition.StretchFeet{Stretch: i + 1}
		fmt.Fprintf(a.out, "stretch %d, %g to %g ft: the feet must fill %g\n", i+1, t.FromFt, t.ToFt, t.LengthFt())
		for s, field := range []*float64{&f.CS1Ft, &f.CS2Ft, &f.CS3Ft, &f.CS4Ft, &f.NotSeenFt} {
			question := "feet not seen"
			if s < 4 {
				question = "feet in " + condition.StateWord(s+1)
			}
			left := t.LengthFt() - f.TotalFt()
			usual := "0"
			if s == 4 {
				usual = strconv.FormatFloat(max(0, left), 'f', -1, 64)
			}
			if _, err := a.number(question, usual, field); err != nil {
				return err
			}
		}
		e.Stretches = append(e.Stretches, f)
	}
	return askReading(a, e)
}

func askReading(a *asker, e *condition.Entry) error {
	var r condition.Reading
	given, err := a.number("gap in inches, blank if not measured", "", &r.GapIn)
	if err != nil || !given {
		return err
	}
	var t float64
	given, err = a.number("deck temperature in °F, blank if not measured", "", &t)
	if given {
		r.DeckTempF = &t
	}
	e.Readings = append(e.Readings, r)
	return err
}
