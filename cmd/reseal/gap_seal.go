package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"reseal/condition"
	"reseal/condition/opening"
)

// sealTrial is one seal of the catalogue held against the joint.
type sealTrial struct {
	Kind         string   `json:"kind"`
	Size         string   `json:"size"`
	Fits         bool     `json:"fits"`
	Proposed     bool     `json:"proposed"`
	Out          float64  `json:"out_probability"`
	Fails        []string `json:"fails,omitempty"`
	Source       string   `json:"source"`
	Illustrative bool     `json:"illustrative"`
}

// chooseSeal adds to the answer which seals of the catalogue fit, and why
// others do not.
func chooseSeal(c *cli.Context, a *gapAnswer, r *condition.GapRules, o condition.GapOptions) {
	choice := a.line.Choose(r.Catalogue, opening.ChooseOptions{Year: o.Year, InstallTempF: c.Float64("at-temp"), Confidence: r.SealConfidence})
	a.choice = &choice
	best, otherKind := a.gap.Propose(&choice)
	a.proposed, a.otherKind = best, otherKind
	for i, t := range choice.Trials {
		s := sealTrial{
			Kind: string(t.Seal.Kind), Size: t.Seal.Size, Fits: t.Fits, Proposed: i == best, Out: t.ProbOut,
			Source: t.Seal.Source, Illustrative: t.Seal.Illustrative,
		}
		for _, f := range t.Failures {
			s.Fails = append(s.Fails, failureWords(f))
		}
		a.Choice = append(a.Choice, s)
	}
}

func failureWords(f opening.Failure) string {
	by := fmt.Sprintf("%.2f %s", f.By, f.Unit)
	if f.Unit != "in" {
		by = fmt.Sprintf("%.0f %s", f.By, f.Unit)
	}
	if f.Prob < 1 {
		return fmt.Sprintf("%s by %s (to fail: %s likely)", f.Limit, by, condition.Likely(f.Prob))
	}
	return fmt.Sprintf("%s by %s", f.Limit, by)
}

func sealText(w world, a *gapAnswer) {
	if a.proposed >= 0 {
		s := a.choice.Trials[a.proposed].Seal
		what := "Proposed, the smallest that fits"
		if a.otherKind {
			what = "Proposed, since no " + a.gap.Seals[0].Kind + " of the catalogue fits; the engineer in charge decides on another kind"
		}
		note := ""
		if s.Illustrative {
			note = "; this row is illustrative"
		}
		for _, l := range wrap(fmt.Sprintf("%s: %s, %s (%s%s)", what, s.Kind, s.Size, s.Source, note), tableWidth) {
			fmt.Fprintln(w.out, l)
		}
	} else {
		fmt.Fprintln(w.out, "No seal of the catalogue fits.")
	}
	fmt.Fprintf(w.out, "%-40s %5s  %s\n", "seal", "out %", "what it fails on, and by how much")
	illustrative := false
	for _, t := range a.Choice {
		name := t.Kind + ", " + t.Size
		if t.Illustrative {
			name, illustrative = name+" †", true
		}
		fails := []string{"fits"}
		if !t.Fits {
			fails = t.Fails
		}
		fmt.Fprintf(w.out, "%-40s %5.0f  %s\n", name, 100*t.Out, fails[0])
		for _, f := range fails[1:] {
			fmt.Fprintf(w.out, "%48s%s\n", "", f)
		}
	}
	if a.check.Findings.Has(opening.DoesNotMove) {
		fmt.Fprintf(w.out, "The joint does not move now. Once freed it would move %.2f in by theory: size the seal for that too.\n", a.Theory.MovementIn)
	}
	if illustrative {
		fmt.Fprintln(w.out, "† illustrative row: put in the agency's own list with reseal settings table import seal_catalogue FILE")
	}
	fmt.Fprintln(w.out, "A seal must hold its limits on the coldest and the hottest deck with the confidence of the settings.\nThe product's own data sheet overrides the catalogue.")
}
