package opening_test

import (
	"math"
	"testing"

	"reseal/condition/opening"
)

// WSDOT example 1: reinforced concrete box girder, 200 ft, joint at each end.
func TestCompressionSealExample(t *testing.T) {
	j := opening.Joint{
		ExpansionLengthFt: 100, Material: opening.Concrete, SkewDeg: 15,
		Range:       opening.TempRange{MinF: 0, MaxF: 100},
		ShrinkageIn: opening.ShrinkageIn(0.0002, 0.8, 100),
	}
	near(t, wsdot+", thermal", j.MovementIn(0, 100), 0.72, 0.005)
	near(t, wsdot+", shrinkage", j.ShrinkageIn, 0.19, 0.005)
	square, racking := j.Demand(64, 1).TotalIn(), j.RangeRackingIn(1)
	near(t, wsdot+", square to the joint", square, 0.88, 0.005)
	near(t, wsdot+", along the joint", racking, 0.24, 0.005)
	rule := opening.DefaultCompressionRule()
	near(t, wsdot+", width for movement", rule.WidthIn(square, 0), 1.96, 0.01)
	near(t, wsdot+", width for racking", rule.WidthIn(0, racking), 1.07, 0.01)
	width := opening.RoundUpIn(rule.WidthIn(square, racking), 0.5)
	near(t, wsdot+", size", width, 2, 0)
	for _, day := range []struct{ tempF, want, worked float64 }{{40, 1.37, 1.3669}, {64, 1.20, 1.2}, {80, 1.09, 1.0887}} {
		got := j.OpeningIn(0.60*width, 64, day.tempF)
		near(t, wsdot+", construction gap", got, day.want, 0.005)
		near(t, "worked out", got, day.worked, 1e-4)
	}
}

// WSDOT example 2: poured silicone in a 1 in gap of an old prestressed span.
func TestPouredSealExample(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 80, Material: opening.Concrete, Range: opening.TempRange{MinF: 0, MaxF: 100}}
	near(t, wsdot+", thermal", j.MovementIn(0, 100), 0.58, 0.005)
	silicone := opening.Seal{Kind: opening.PouredSilicone, OpenShare: 1, CloseShare: 0.5}
	for _, day := range []struct{ tempF, gap, closing, closeShare, opening, openShare float64 }{
		{40, 1.14, 0.35, 0.31, 0.23, 0.20},
		{80, 0.91, 0.12, 0.13, 0.46, 0.51},
	} {
		gap, d := j.OpeningIn(1.00, 64, day.tempF), j.Demand(day.tempF, 1)
		near(t, wsdot+", gap", gap, day.gap, 0.005)
		near(t, wsdot+", closing", d.CloseIn, day.closing, 0.0051)
		near(t, wsdot+", closing share", d.CloseIn/gap, day.closeShare, 0.0101) // printed from rounded parts
		near(t, wsdot+", opening", d.OpenIn, day.opening, 0.005)
		near(t, wsdot+", opening share", d.OpenIn/gap, day.openShare, 0.0101)
		m := silicone.LimitsAt(gap)
		if gap+d.OpenIn > m.MaxIn || gap-d.CloseIn < m.MinIn {
			t.Errorf("%s: reuse is feasible, got limits %+v at %.2f in", wsdot, m, gap)
		}
		// The same answer from the line through that one reading.
		l := fit(t, j, opening.Reading{Year: 2024, DeckTempF: 64, GapIn: 1})
		c := l.Choose([]opening.Seal{silicone}, opening.ChooseOptions{Year: 2024, InstallTempF: day.tempF})
		if c.Best != 0 {
			t.Errorf("%s: reuse at %.0f °F is feasible, got %+v", wsdot, day.tempF, c.Trials)
		}
	}
}

// WSDOT example 3: strip seals at the ends of a 600 ft steel plate girder.
func TestStripSealExample(t *testing.T) {
	j := opening.Joint{ExpansionLengthFt: 300, Material: opening.Steel, SkewDeg: 10, Climate: opening.Moderate}
	near(t, wsdot+", thermal", j.MovementIn(0, 120), 2.81, 0.005)
	d := j.Demand(64, 1)
	near(t, wsdot+", closing", d.CloseIn, 1.29, 0.005)
	near(t, wsdot+", opening", d.OpenIn, 1.475, 0.005)
	tests := []struct {
		name                   string
		closed, installMin     float64
		install, size, nominal float64
		gaps, worked           [3]float64 // at 40, 64, 80 °F
	}{
		{"half an inch when closed", 0.5, 0, 1.79, 3.27, 4, [3]float64{2.35, 1.79, 1.42}, [3]float64{2.344, 1.790, 1.422}},
		{"closes fully", 0, 1.5, 1.50, 2.98, 3, [3]float64{2.06, 1.50, 1.13}, [3]float64{2.053, 1.500, 1.131}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			n := opening.SizeNewOpening(d, tt.closed, tt.installMin)
			near(t, wsdot+", gap at 64 °F", n.InstallIn, tt.install, 0.005)
			near(t, wsdot+", size", n.SizeIn, tt.size, 0.006)
			near(t, wsdot+", nominal", opening.RoundUpIn(n.SizeIn, 1), tt.nominal, 0)
			for i, tempF := range []float64{40, 64, 80} {
				got := j.OpeningIn(n.InstallIn, 64, tempF)
				near(t, wsdot+", gap on the day", got, tt.gaps[i], 0.0075) // printed from rounded parts
				near(t, "worked out", got, tt.worked[i], 5e-4)
			}
		})
	}
}

// WSDOT example 4: modular joint between two post-tensioned frames.
func TestModularExample(t *testing.T) {
	frameA := opening.Demand{OpenIn: 0.5*1.18 + 1.5*1.42 + 3.00, CloseIn: 2.60}
	frameB := opening.Demand{OpenIn: 0.5*0.59 + 1.5*0.79 + 1.50, CloseIn: 1.30}
	near(t, wsdot+", frame A opens", frameA.OpenIn, 5.72, 0.005)
	near(t, wsdot+", frame B opens", frameB.OpenIn, 2.98, 0.005)
	both := frameA.Plus(frameB)
	near(t, wsdot+", opening", both.OpenIn, 8.70, 0.005)
	near(t, wsdot+", closing", both.CloseIn, 3.90, 0.005)
	const allowance = 1.15
	size := opening.RoundUpIn(allowance*both.TotalIn(), 3)
	near(t, wsdot+", size", allowance*both.TotalIn(), 14.49, 0.005)
	near(t, wsdot+", nominal", size, 15, 0)
	shape := opening.Modular{Cells: int(size / 3), CentreBeamsIn: 4 * 2.50}
	if shape.Cells != 5 {
		t.Errorf("%s: got %d seals, want 5", wsdot, shape.Cells)
	}
	n := opening.SizeNewOpening(opening.Demand{OpenIn: both.OpenIn, CloseIn: allowance * both.CloseIn}, 0, 0)
	near(t, wsdot+", opening at 64 °F, beams included", shape.CentreBeamsIn+n.InstallIn, 14.48, 0.006)
	g64 := math.Round(2*(shape.CentreBeamsIn+n.InstallIn)) / 2
	near(t, wsdot+", rounded", g64, 14.5, 0)
	// The example gives movements, not lengths: 4.50 in over the 64 °F to the
	// coldest, 3.90 in over the 56 °F to the hottest. Lengths that move so much:
	falling := opening.Joint{AlphaPerF: 6e-6, ExpansionLengthFt: 4.50 / (12 * 6e-6 * 64)}
	rising := opening.Joint{AlphaPerF: 6e-6, ExpansionLengthFt: 3.90 / (12 * 6e-6 * 56)}
	near(t, wsdot+", at 40 °F", falling.OpeningIn(g64, 64, 40), 16.19, 0.005)
	near(t, wsdot+", at 80 °F", rising.OpeningIn(g64, 64, 80), 13.39, 0.005)
	// The clear opening of one cell, as a whole measurement is converted.
	for _, tt := range []struct{ whole, cell float64 }{{g64 + 8.70, 2.64}, {g64, 0.90}} {
		r, err := opening.Measurement{Gap: tt.whole, Temp: 64}.Reading(0, shape, opening.Settings{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, wsdot+", one cell", r.GapIn/5, tt.cell, 0.0051)
	}
}

// Compression seal by temperature: a state DOT rigid-pavement chapter (3.3.8)
// with the method of FHWA T 5040.30 (1990). The range 14 to 90 °F is inferred
// from its ratios 66/76 and 26/76.
func TestCompressionByTemperature(t *testing.T) {
	const source = "rigid-pavement chapter 3.3.8"
	rule := opening.CompressionRule{Low: 0.45, High: 0.80}
	near(t, source+", least width", rule.WidthIn(0.15, 0), 0.43, 0.005)
	over := opening.TempRange{MinF: 14, MaxF: 90}
	for _, tt := range []struct{ tempF, want, worked float64 }{{80, 0.344, 0.3413}, {40, 0.47, 0.4680}} {
		got := rule.SetIn(0.688, tt.tempF, over)
		near(t, source, got, tt.want, 0.004) // printed from rounded shares
		near(t, "worked out", got, tt.worked, 2e-4)
	}
}

// Rows of the built-in table against the published facts they claim.
func TestCatalogue(t *testing.T) {
	find := func(kind opening.Kind, size string) opening.Seal {
		for _, s := range opening.Catalogue() {
			if s.Kind == kind && s.Size == size {
				return s
			}
		}
		t.Fatalf("no %s %s", kind, size)
		return opening.Seal{}
	}
	// Missouri DOT table; agrees with common practice for a gland of 2¼ in.
	gland := find(opening.Gland, "2¼ in movement")
	near(t, "gland smallest", gland.MinIn, 0.75, 0)
	near(t, "gland largest", gland.MaxIn, 3, 0)
	near(t, "gland movement", gland.CapacityIn(), 2.25, 0)
	// Maryland SHA: up to 2 in square to the joint at 60 °F or below, the 3 in seal may be used.
	three := find(opening.Compression, "3 in wide").LimitsAt(0)
	if three.MaxIn < 2 || three.MinIn > 2 {
		t.Errorf("3 in compression seal in a 2 in gap: got limits %+v", three)
	}
	for _, s := range opening.Catalogue() {
		if s.Source == "" || s.Size == "" || s.Kind == "" {
			t.Errorf("row %+v lacks a kind, size or source", s)
		}
		if s.MaxIn < s.MinIn || (s.MaxIn == 0 && s.OpenShare == 0 && s.MovementShare == 0 && s.MovementIn == 0) {
			t.Errorf("row %s %s has no limits", s.Kind, s.Size)
		}
	}
}

func fit(t *testing.T, j opening.Joint, readings ...opening.Reading) opening.Line {
	t.Helper()
	l, err := opening.Fit(j, readings, opening.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}
