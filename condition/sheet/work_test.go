package sheet_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"reseal/condition/opening"
	"reseal/condition/sheet"
)

// A repair of at most a quarter of 44 ft takes 11 ft: 11 · 1.05 = 11.55 ft of
// seal, 2 · 11 · 4/12 = 7.33 sq ft of blasting, 11/12 h.
func TestRepairTakesNoWholeSeal(t *testing.T) {
	s, err := sheet.New(sheet.Job{
		LengthFt: 44, HeaderRepairFt: 6, Existing: "compression seal", Seal: opening.Seal{Kind: opening.Compression},
		Work: sheet.Work{Treatment: "spot repair", Effect: "repairs", MostShare: 0.25},
		Poor: sheet.Poor{On: "2026-05-11", CS3Ft: 4, CS4Ft: 9},
	}, sheet.Practice{})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]float64{
		"at most: Seal: compression seal, size as in place": 12, "at most: Blast cleaning, both faces": 8,
		"at most: Primer or adhesive film, both faces": 6, // 2 · 11 · 3/12 = 5.5
	}
	for _, q := range s.Quantities {
		if want[q.Name] != q.Amount {
			t.Errorf("%s: got %g, want %g", q.Name, q.Amount, want[q.Name])
		}
	}
	if len(s.Quantities) != len(want) || s.Hours.Work != 11.0/12 {
		t.Errorf("got %d quantities and %g h, want %d and %g", len(s.Quantities), s.Hours.Work, len(want), 11.0/12)
	}
	holds(t, s, []string{
		"spot repair", "at most 11.0 ft (25 % of the length)", "4.0 ft in CS3 and 9.0 ft in CS4 on 2026-05-11: more than this repair covers",
		"back, square, to sound seal", "seal maker's instructions", "6.0 ft, not in this work", "Silica dust", "engineer in charge",
	}, []string{"Take out the old seal", "Install ", "Repair 6.0 ft of header"})
}

func TestCleaningOrdersNothing(t *testing.T) {
	s, err := sheet.New(sheet.Job{LengthFt: 44, WindowHours: 8, Work: sheet.Work{Treatment: "clean and flush", Effect: "nothing"}}, sheet.Practice{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Quantities) > 0 {
		t.Errorf("got %+v, want nothing to order", s.Quantities)
	}
	holds(t, s, []string{"clean and flush", "no seal is ordered", "Flush from the high end", "Silica dust", "engineer in charge"},
		[]string{"old seal", "Install", "QUANTITIES", "Quantities</h2>", "Seal limits", "Cure about"})
}

// holds reads a sheet as text and as a page.
func holds(t *testing.T, s sheet.Sheet, want, never []string) {
	t.Helper()
	var text, page bytes.Buffer
	if err := errors.Join(sheet.WriteText(&text, s), sheet.WriteHTML(&page, []sheet.Sheet{s})); err != nil {
		t.Fatal(err)
	}
	for _, out := range []string{strings.Join(strings.Fields(text.String()), " "), strings.ReplaceAll(page.String(), "&#39;", "'")} {
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("no %q in:\n%s", w, out)
			}
		}
		for _, n := range never {
			if strings.Contains(out, n) {
				t.Errorf("%q in:\n%s", n, out)
			}
		}
	}
}

func TestWhichWorkHasASheet(t *testing.T) {
	for _, test := range []struct {
		work sheet.Work
		has  bool
	}{
		{sheet.Work{}, true},
		{sheet.Work{Treatment: "reseal"}, true},
		{sheet.Work{Treatment: "reseal with header repair", Effect: "renews"}, true},
		{sheet.Work{Treatment: "new gland in existing rails", Effect: "renews"}, true},
		{sheet.Work{Treatment: "pour", Effect: "renews", NewKind: "pourable seal"}, true},
		{sheet.Work{Treatment: "spot repair", Effect: "repairs", MostShare: 0.25}, true},
		{sheet.Work{Treatment: "clean and flush", Effect: "nothing"}, true},
		{sheet.Work{Treatment: "change to strip seal", Effect: "renews", NewKind: "strip seal"}, false},
		{sheet.Work{Treatment: "full replacement", Effect: "renews"}, false},
		{sheet.Work{Treatment: "header rebuild", Effect: "renews"}, false},
		{sheet.Work{Treatment: "raise or rebuild with an overlay", Effect: "renews"}, false},
		{sheet.Work{Treatment: "trough repair", Effect: "nothing"}, false},
		{sheet.Work{Treatment: "temporary plate", Effect: "nothing"}, false},
		{sheet.Work{Treatment: "elimination", Effect: "removes"}, false},
	} {
		_, err := sheet.New(sheet.Job{LengthFt: 44, Seal: opening.Seal{Kind: opening.StripSeal}, Work: test.work}, sheet.Practice{})
		if (err == nil) != test.has {
			t.Errorf("%q: got %v, want a sheet: %v", test.work.Treatment, err, test.has)
		}
		if want := "no sheet for " + test.work.Treatment + ": needs drawings by a licensed engineer"; err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("got %q, want %q", err, want)
		}
	}
}
