package sheet

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"reseal/condition/opening"
)

//go:embed sheet.gohtml
var page string

// view is what both writers show beside the sheet itself.
type view struct {
	Sheet
	Title  string
	Facts  [][2]string // label, value
	Plot   template.HTML
	Expect []expectation
}

// expectation is one row of the opening to expect.
type expectation struct {
	DeckTempF float64
	Gap, Band string
	Note      string // "" or why not to install
}

const (
	illustrative = "This seal's row in the catalogue is illustrative: confirm its limits before use."
	practiceNote = "Quantities, hours and steps: common practice, no source, unless a rule is named. The product's own data sheet overrides each."
)

// asBuiltPlaces are where opening and temperature are written down.
var asBuiltPlaces = [3]string{"Left curb", "Crown", "Right curb"}

func (s *Sheet) view() view {
	j := &s.Job
	v := view{Sheet: *s, Title: strings.TrimSpace(j.Structure + "  joint " + j.Joint), Plot: plot(j.Openings, s.Limits)}
	fact := func(label, value string) {
		if value != "" {
			v.Facts = append(v.Facts, [2]string{label, value})
		}
	}
	join := func(parts ...string) string {
		var kept []string
		for _, p := range parts {
			if p != "" {
				kept = append(kept, p)
			}
		}
		return strings.Join(kept, ", ")
	}
	fact("Facility / over", join(j.Facility, j.Feature))
	fact("Route, milepost", join(j.Route, j.Milepost))
	fact("Direction, lanes", join(j.Direction, j.Lanes))
	fact("District", j.District)
	fact("Stage", j.Stage)
	if j.LatDeg != 0 || j.LonDeg != 0 {
		fact("Position", fmt.Sprintf("%.5f, %.5f (lat, lon)", j.LatDeg, j.LonDeg))
	}
	fact("There now", j.Existing)
	fact("Work", j.Work.Treatment)
	switch {
	case j.Work.Repairs():
		fact("Repair", fmt.Sprintf("the worst feet only, at most %.1f ft (%.0f %% of the length); the rest of the seal stays", s.WorkFt, 100*j.Work.MostShare))
		fact("Worst feet", s.worstFeet())
		fact("Seal to match", sealName(&j.Seal))
	case j.Work.Cleans():
		fact("Clean", "the seal stays; no seal is ordered")
	default:
		fact("Install", string(j.Seal.Kind)+", "+j.Seal.Size)
	}
	fact("Length", fmt.Sprintf("%.1f ft (%s)", s.LengthFt, s.LengthSum))
	if s.Limits.Known() {
		fact("Seal works at", fmt.Sprintf("%s to %s in", atLeast(s.Limits.MinIn), atMost(s.Limits.MaxIn)))
	}
	if j.HeaderRepairFt > 0 {
		fact("Header repair", fmt.Sprintf("%.1f ft", j.HeaderRepairFt))
	}
	v.Expect = s.expectations()
	return v
}

// expectations are the steps at which work can go on: from 35 °F up, or all
// where the range ends below.
func (s *Sheet) expectations() []expectation {
	var rows []expectation
	const coldestWork, hottestWork = 35, 105
	for _, o := range s.Job.Openings {
		if o.DeckTempF < coldestWork || o.DeckTempF > hottestWork {
			continue
		}
		e := expectation{DeckTempF: o.DeckTempF, Gap: Inches(o.GapIn), Band: Inches(o.LowIn) + " – " + Inches(o.HighIn)}
		seal := &s.Job.Seal
		switch {
		case o.DeckTempF < seal.InstallMinF:
			e.Note = "too cold"
		case seal.InstallMinIn > 0 && o.GapIn < seal.InstallMinIn:
			e.Note = "too narrow"
		case seal.InstallMaxIn > 0 && o.GapIn > seal.InstallMaxIn:
			e.Note = "too wide"
		case s.Limits.Known() && (o.GapIn < s.Limits.MinIn || o.GapIn > s.Limits.MaxIn):
			e.Note = "outside seal"
		}
		rows = append(rows, e)
	}
	return rows
}

// amount writes a quantity without needless decimals.
func amount(x float64) string {
	if x == math.Trunc(x) {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.1f", x)
}

var pages = template.Must(template.New("sheets").Funcs(template.FuncMap{
	"amount": amount, "places": func() [3]string { return asBuiltPlaces },
	"halves":       func(e []expectation) [][]expectation { return [][]expectation{e[:(len(e)+1)/2], e[(len(e)+1)/2:]} },
	"illustrative": func() string { return illustrative }, "practice": func() string { return practiceNote },
}).Parse(page))

// WriteHTML writes the sheets as one self-contained HTML document, one joint a
// printed page on US Letter or A4, legible in black and white.
func WriteHTML(w io.Writer, sheets []Sheet) error {
	views := make([]view, len(sheets))
	for i := range sheets {
		views[i] = sheets[i].view()
	}
	if err := pages.Execute(w, views); err != nil {
		return fmt.Errorf("writing crew sheets: %w", err)
	}
	return nil
}

// WriteText writes one sheet as plain text of up to 100 columns.
func WriteText(w io.Writer, s Sheet) error {
	v := s.view()
	var b strings.Builder
	section := func(title string) { fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(title)) }
	bullet := func(mark, text string) { b.WriteString(wrap(mark, text, 98)) }
	fmt.Fprintf(&b, "CREW SHEET  %s\n", v.Title)
	for _, f := range v.Facts {
		bullet(fmt.Sprintf("%-18s", f[0]), f[1])
	}
	section("Go / no-go")
	for _, g := range v.GoNoGo {
		bullet("[ ] ", g)
	}
	if v.Job.Seal.Illustrative {
		bullet("!   ", illustrative)
	}
	if len(v.Expect) > 0 {
		section("Opening to expect, square to the joint")
		fmt.Fprintf(&b, "%8s  %9s  %s\n", "deck °F", "opening", "80 % band, in")
		for _, e := range v.Expect {
			b.WriteString(strings.TrimRight(fmt.Sprintf("%8.0f  %9s  %-20s %s", e.DeckTempF, e.Gap, e.Band, e.Note), " ") + "\n")
		}
	}
	if len(v.Quantities) > 0 {
		section("Quantities")
	}
	for _, q := range v.Quantities {
		bullet(fmt.Sprintf("%7s %-16s", amount(q.Amount), q.Unit), q.Name+": "+q.Sum)
	}
	section("Time")
	bullet("work      ", v.Hours.Sum)
	bullet("closures  ", v.Hours.ShiftsSum)
	section("Steps")
	for i, step := range v.Steps {
		text := step.Text
		if step.Hold {
			text = "HOLD. " + text
		}
		bullet(fmt.Sprintf("%2d. ", i+1), text)
	}
	section("Cautions")
	for _, c := range v.Cautions {
		bullet("- ", c)
	}
	section("As built")
	for _, place := range asBuiltPlaces {
		fmt.Fprintf(&b, "%-11s opening ________ in   deck ________ °F   recess ________ in\n", place)
	}
	b.WriteString("Lot numbers ______________________________   Cure time __________\n")
	b.WriteString("Name ____________________________   Date ____________\n\n")
	bullet("", practiceNote)
	if !v.Job.Work.Cleans() {
		bullet("", "Seal limits from: "+sourceOf(v.Job.Seal))
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("writing crew sheet: %w", err)
	}
	return nil
}

func sourceOf(s opening.Seal) string {
	if s.Source == "" {
		return "not given"
	}
	return s.Source
}

// wrap breaks text into lines of up to width characters after a mark, the
// following ones indented by as much.
func wrap(mark, text string, width int) string {
	indent := len([]rune(mark))
	var b strings.Builder
	b.WriteString(mark)
	column := indent
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case column+1+n > width:
			b.WriteString("\n" + strings.Repeat(" ", indent))
			column = indent
		default:
			b.WriteString(" ")
			column++
		}
		b.WriteString(word)
		column += n
	}
	b.WriteString("\n")
	return b.String()
}
