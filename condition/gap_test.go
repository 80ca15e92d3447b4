package condition_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"reseal/condition"
	"reseal/condition/gaptest"
	"reseal/condition/opening"
	"reseal/inventory"
	"reseal/inventory/store"
)

var gapDay = inventory.Date{Year: 2026, Month: time.March, Day: 1}

func inventoryFile(t testing.TB) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "t.gpkg"), store.Options{
		Create: true, Now: func() time.Time { return time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC) },
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func f(v float64) *float64 { return &v }

// site is a bridge with one joint as a test puts it on record.
type site struct {
	bridge   inventory.Bridge
	joint    inventory.Joint
	seal     inventory.Seal
	readings []condition.Reading
}

// sample is the joint of the WSDOT strip seal example: steel, 600 ft, held at
// its middle, skew 10°.
func sample() *site {
	return &site{
		bridge: inventory.Bridge{State: "41", StructureNumber: "A", Material: "steel", Climate: "moderate", LengthFt: f(600), SkewDeg: f(10)},
		joint:  inventory.Joint{Place: "abutment", Movement: "expansion", ExpansionLengthFt: f(300), LengthFt: f(40)},
		seal:   inventory.Seal{Kind: "strip seal", Size: "4 in", InstalledOn: inventory.Date{Year: 2015, Month: 6, Day: 1}},
		readings: []condition.Reading{
			{ReadOn: inventory.Date{Year: 2015, Month: 6, Day: 1}, GapIn: 1.79, DeckTempF: f(64), AtInstall: true},
		},
	}
}

func load(t *testing.T, s *store.Store, x *site) (*condition.Gap, *condition.GapRules) {
	t.Helper()
	ctx := context.Background()
	err := s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		if err := inventory.AddBridge(ctx, tx, &x.bridge); err != nil {
			return err
		}
		x.joint.BridgeID = x.bridge.ID
		if err := inventory.AddJoint(ctx, tx, &x.joint, x.seal); err != nil {
			return err
		}
		for i := range x.readings {
			if _, err := condition.AddReading(ctx, tx, &x.joint, &x.readings[i], true, gapDay); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	rules, err := condition.LoadGapRules(ctx, s.Read(), gapDay)
	if err != nil {
		t.Fatal(err)
	}
	g, err := condition.OneGap(ctx, s.Read(), rules, x.joint.ID, gapDay)
	if err != nil {
		t.Fatal(err)
	}
	return g, rules
}

// The strip seal example of WSDOT Bridge Design Manual M 23-50, chapter 9.1
// (from memory): 1.79 in at 64 °F opens to 2.35 at 40 °F and closes to 1.42 at
// 80 °F, to the 1/100 in that the example rounds its movement to.
func TestGapOfPublishedExample(t *testing.T) {
	g, rules := load(t, inventoryFile(t), sample())
	line, err := g.Line(rules)
	if err != nil {
		t.Fatal(err)
	}
	for tempF, want := range map[float64]float64{40: 2.35, 64: 1.79, 80: 1.42} {
		at := g.Theory.OpeningIn(1.79, 64, tempF)
		if math.Abs(at-want) > 0.0101 {
			t.Errorf("theory at %g °F: got %.3f in, want %.2f", tempF, at, want)
		}
		mixed := line.At(tempF, gapDay.DecimalYear()) // 3 % of stuck pulls it towards 1.79
		if math.Abs(mixed.MeanIn()-want) > 0.03 {
			t.Errorf("line at %g °F: got %.3f in, want %.2f", tempF, mixed.MeanIn(), want)
		}
	}
}

func TestGapFromRecord(t *testing.T) {
	for _, test := range []struct {
		name    string
		change  func(*site)
		check   func(*condition.Gap) bool
		assumed string // part of what is said to be assumed
		problem string
	}{
		{"as on record", func(*site) {}, func(g *condition.Gap) bool {
			return g.Theory == opening.Joint{ExpansionLengthFt: 300, SkewDeg: 10, Material: opening.Steel, Climate: opening.Moderate} && len(g.Assumed) == 0
		}, "", ""},
		{"prestressed concrete", func(x *site) { x.bridge.Material = "prestressed concrete" }, func(g *condition.Gap) bool { return g.Theory.Material == opening.Concrete }, "", ""},
		{"lightweight concrete", func(x *site) { x.bridge.Material = "Lightweight concrete" }, func(g *condition.Gap) bool { return g.Theory.Material == opening.LightweightConcrete }, "", ""},
		{"no material", func(x *site) { x.bridge.Material = "" }, func(g *condition.Gap) bool { return g.Theory.Material == opening.Steel }, "steel assumed", ""},
		{"no climate", func(x *site) { x.bridge.Climate = "" }, func(g *condition.Gap) bool { return g.Theory.TempRange() == opening.TempRange{MinF: -30, MaxF: 120} }, "cold assumed", ""},
		{"own range", func(x *site) { x.bridge.DeckTempMinF, x.bridge.DeckTempMaxF = f(-10), f(110) }, func(g *condition.Gap) bool {
			return g.Theory.TempRange() == opening.TempRange{MinF: -10, MaxF: 110}
		}, "", ""},
		{"own skew", func(x *site) { x.joint.SkewDeg = f(25) }, func(g *condition.Gap) bool { return g.Theory.SkewDeg == 25 }, "", ""},
		{"marked as assumed", func(x *site) { x.joint.ExpansionAssumed = true }, func(*condition.Gap) bool { return true }, "marked as assumed", ""},
		{"proposed, one span", func(x *site) { x.joint.ExpansionLengthFt = nil }, func(g *condition.Gap) bool { return g.Theory.ExpansionLengthFt == 300 }, "300 ft proposed", ""},
		{"proposed, pier of three simple spans", func(x *site) {
			x.joint.ExpansionLengthFt, x.joint.Place, x.joint.Sequence, x.bridge.MainSpans = nil, "pier", 2, new(int)
			*x.bridge.MainSpans = 3
		}, func(g *condition.Gap) bool { return g.Theory.ExpansionLengthFt == 200 }, "200 ft proposed", ""},
		{"no length at all", func(x *site) { x.joint.ExpansionLengthFt, x.bridge.LengthFt = nil, nil }, func(*condition.Gap) bool { return true }, "", "no expansion length"},
		{"fixed", func(x *site) { x.joint.Movement, x.joint.ExpansionLengthFt = "fixed", nil }, func(g *condition.Gap) bool { return g.Theory.Still && g.Problem == "" }, "", ""},
		{"longitudinal", func(x *site) { x.joint.Place = "longitudinal" }, func(g *condition.Gap) bool { return g.Theory.Still }, "", ""},
		{"movement unknown", func(x *site) { x.joint.Movement = "" }, func(g *condition.Gap) bool { return !g.Theory.Still }, "taken as an expansion joint", ""},
		{"no reading", func(x *site) { x.readings = nil }, func(*condition.Gap) bool { return true }, "", "no gap reading"},
		{"reading without a temperature", func(x *site) { x.readings[0].DeckTempF = nil }, func(g *condition.Gap) bool { return g.LeftOut == 1 }, "", "no gap reading"},
		{"air temperature", func(x *site) { x.readings[0].AirTempF, x.readings[0].DeckTempF = f(64), nil }, func(g *condition.Gap) bool { return g.Readings[0].AirTemp }, "", ""},
		{"a bridge's quantity", func(x *site) { x.joint.Scope = inventory.ScopeQuantity }, func(*condition.Gap) bool { return true }, "", "whole bridge"},
		{"opening noted with the seal", func(x *site) {
			x.readings, x.seal.InstalledGapIn, x.seal.InstalledDeckTempF = nil, f(1.79), f(64)
		}, func(g *condition.Gap) bool { return len(g.Readings) == 1 && g.Readings[0].GapIn == 1.79 }, "", ""},
		{
			"opening noted twice counts once", func(x *site) { x.seal.InstalledGapIn, x.seal.InstalledDeckTempF = f(1.79), f(64) },
			func(g *condition.Gap) bool { return len(g.Readings) == 1 }, "", "",
		},
		{"other faces are left out", func(x *site) {
			x.readings[0].Faces = "headers"
			x.readings = append(x.readings, condition.Reading{ReadOn: gapDay, GapIn: 1.4, DeckTempF: f(80), Faces: "extrusions"})
		}, func(g *condition.Gap) bool {
			return len(g.Readings) == 1 && g.LeftOut == 1 && g.Readings[0].GapIn == 1.4
		}, "", ""},
		{"positions are pooled", func(x *site) {
			for i, p := range []string{"left curb", "crown", "right curb"} {
				x.readings = append(x.readings, condition.Reading{ReadOn: gapDay, GapIn: 1.4 + 0.1*float64(i), DeckTempF: f(80), Position: p})
			}
		}, func(g *condition.Gap) bool { return len(g.Readings) == 2 && len(g.Offsets) == 4 }, "", ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			x := sample()
			test.change(x)
			g, _ := load(t, inventoryFile(t), x)
			said := strings.Join(g.Assumed, "; ")
			if !test.check(g) || !strings.Contains(said, test.assumed) || test.assumed == "" && said != "" {
				t.Errorf("got %+v, assumed %q; want %q", g.Theory, said, test.assumed)
			}
			if test.problem == "" != (g.Problem == "") || !strings.Contains(g.Problem, test.problem) {
				t.Errorf("problem: got %q, want %q", g.Problem, test.problem)
			}
		})
	}
}

func TestGapLimits(t *testing.T) {
	for _, test := range []struct {
		name string
		seal inventory.Seal
		want opening.Limits
		from string
	}{
		{"own record", inventory.Seal{Kind: "strip seal", Size: "4 in", MinOpenIn: f(0.5), MaxOpenIn: f(3.5)}, opening.Limits{MinIn: 0.5, MaxIn: 3.5}, "own record"},
		{"by size", inventory.Seal{Kind: "strip seal", Size: "4 in"}, opening.Limits{MaxIn: 4}, "strip seal, 4 in"},
		{"by number", inventory.Seal{Kind: "compression seal", Size: "2 1/2"}, opening.Limits{MinIn: 1, MaxIn: 2.125, RackingIn: 0.55}, "compression seal, 2.5 in wide"},
		{"by fraction", inventory.Seal{Kind: "preformed gland", Size: "2.25"}, opening.Limits{MinIn: 0.75, MaxIn: 3, RackingIn: 0.34}, "2¼ in movement"},
		{"modular", inventory.Seal{Kind: "modular joint", Size: "5 cells"}, opening.Limits{MaxIn: 15}, "5 cells of 3 in"},
		{"foam", inventory.Seal{Kind: "foam seal", Size: "2 in"}, opening.Limits{MinIn: 0.8, MaxIn: 2}, "illustrative"},
		{"silicone by its width", inventory.Seal{Kind: "pourable seal", Size: "silicone"}, opening.Limits{MinIn: 0.895, MaxIn: 3.58}, "poured silicone"},
		{"poured, of what", inventory.Seal{Kind: "pourable seal"}, opening.Limits{}, "does not say what was poured"},
		{"sealant", inventory.Seal{Kind: "pourable seal", Size: "hot poured sealant"}, opening.Limits{}, "gives a movement but no limits"},
		{"unknown size", inventory.Seal{Kind: "strip seal", Size: "large"}, opening.Limits{}, `size "large"`},
		{"open joint", inventory.Seal{Kind: "open joint"}, opening.Limits{}, "neither"},
	} {
		t.Run(test.name, func(t *testing.T) {
			x := sample()
			test.seal.InstalledOn = x.seal.InstalledOn
			x.seal = test.seal
			g, _ := load(t, inventoryFile(t), x)
			near := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }
			if !near(g.Limits.MinIn, test.want.MinIn) || !near(g.Limits.MaxIn, test.want.MaxIn) || !near(g.Limits.RackingIn, test.want.RackingIn) || !strings.Contains(g.LimitsFrom, test.from) {
				t.Errorf("got %+v from %q, want %+v from %q", g.Limits, g.LimitsFrom, test.want, test.from)
			}
		})
	}
}

// What came after the day, and what was corrected, does not count.
func TestGapAsOf(t *testing.T) {
	s, x := inventoryFile(t), sample()
	x.readings = append(x.readings, condition.Reading{ReadOn: inventory.Date{Year: 2024, Month: 1, Day: 9}, GapIn: 22.2, DeckTempF: f(40)})
	load(t, s, x)
	ctx := context.Background()
	err := s.Update(ctx, "test", func(ctx context.Context, tx *store.Tx) error {
		_, err := condition.AddReading(ctx, tx, &x.joint, &condition.Reading{ReadOn: x.readings[1].ReadOn, GapIn: 2.22, DeckTempF: f(40), ReplacesID: x.readings[1].ID}, true, gapDay)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	rules, err := condition.LoadGapRules(ctx, s.Read(), gapDay)
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		day  inventory.Date
		want []float64
	}{{gapDay, []float64{1.79, 2.22}}, {inventory.Date{Year: 2020, Month: 1, Day: 1}, []float64{1.79}}} {
		g, err := condition.OneGap(ctx, s.Read(), rules, x.joint.ID, test.day)
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		for _, r := range g.Readings {
			got = append(got, r.GapIn)
		}
		if !slices.Equal(got, test.want) {
			t.Errorf("as of %s: got %v, want %v", test.day, got, test.want)
		}
	}
}

// The migration's rows are those of opening.Catalogue, sources included.
func TestCatalogueStartsAsPublished(t *testing.T) {
	got, err := condition.LoadCatalogue(context.Background(), inventoryFile(t).Read())
	if err != nil {
		t.Fatal(err)
	}
	round := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })
	if diff := cmp.Diff(condition.Catalogue(opening.Catalogue()), got, round); diff != "" {
		t.Errorf("want (-), got (+):\n%s", diff)
	}
}

// Each setting has its own field, and a default within its range; those of the
// opening line are the line's own defaults.
func TestSettingDefinitions(t *testing.T) {
	var s condition.Settings
	defs := s.Definitions()
	for i, d := range defs {
		*d.Value = float64(i + 1)
	}
	for i, d := range defs {
		if *d.Value != float64(i+1) {
			t.Errorf("%s shares its field", d.Name)
		}
		if d.Meaning == "" || d.Unit == "" || d.Source == "" || !(d.Default >= d.Min && d.Default <= d.Max) {
			t.Errorf("definition %+v", d)
		}
		*d.Value = d.Default
	}
	got, want := s.Opening(), opening.DefaultSettings()
	if got.TapeIn != want.TapeIn || got.DeckTempErrF != want.DeckTempErrF || got.AirTempErrF != want.AirTempErrF || got.LoadFactor != want.LoadFactor || got.Confidence != want.Confidence {
		t.Errorf("got %+v, want the defaults %+v", got, want)
	}
}

// In an invented network whose readings are as noisy as the settings say, the
// noise is found to be so, most joints that do not move are found, and few
// that move are called stuck. The check of all is the check of each.
func TestEachGap(t *testing.T) {
	s, ctx := inventoryFile(t), context.Background()
	if err := gaptest.Fill(ctx, s, 1500, 7); err != nil {
		t.Fatal(err)
	}
	rules, err := condition.LoadGapRules(ctx, s.Read(), gapDay)
	if err != nil {
		t.Fatal(err)
	}
	if n := rules.Noise; !n.Enough || n.Joints != 3000 || math.Abs(n.Factor-1) > 0.12 {
		t.Errorf("noise: got %+v, want a factor near 1 from 3000 joints", n)
	}
	seen, stuck, counted := 0, 0, 0
	o := condition.GapOptions{AsOf: gapDay, Counted: func(n int) { counted += n }}
	err = condition.EachGap(ctx, s.Read(), rules, o, func(g *condition.Gap, c *opening.Check) error {
		seen++
		if c.Findings.Has(opening.DoesNotMove) {
			stuck++
		}
		if seen%500 != 0 {
			return nil
		}
		one, err := condition.OneGap(ctx, s.Read(), rules, g.ID, gapDay)
		if err != nil {
			return err
		}
		line, err := one.Line(rules)
		if err != nil {
			return err
		}
		if want := line.Judge(one.Limits, gapDay.DecimalYear(), rules.Opening()); want != *c {
			t.Errorf("joint %s: got %+v, by itself %+v", g.Tag, *c, want)
		}
		return nil
	})
	if err != nil || seen != 3000 || counted != 3000 {
		t.Fatalf("saw %d, counted %d (%v), want 3000", seen, counted, err)
	}
	if stuck < 20 || stuck > 90 {
		t.Errorf("%d of 3000 are said not to move: want a good part of the 90 or so that do not, and few others", stuck)
	}
	only := 0
	o.Filter.District = "2"
	err = condition.EachGap(ctx, s.Read(), rules, o, func(g *condition.Gap, _ *opening.Check) error {
		only++
		if g.Bridge.District != "2" {
			t.Errorf("joint %s is in district %s", g.Tag, g.Bridge.District)
		}
		return nil
	})
	if err != nil || only != 600 {
		t.Errorf("district 2: got %d (%v), want 600", only, err)
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	if err := condition.EachGap(cancelled, s.Read(), rules, o, func(*condition.Gap, *opening.Check) error { return nil }); err == nil {
		t.Error("a cancelled check went on")
	}
}

// BenchmarkEachGap checks a whole network of joints with 5 readings each from
// the database; memory must not grow with it.
func BenchmarkEachGap(b *testing.B) {
	sizes := []int{10_000, 100_000}
	if os.Getenv("RESEAL_LONG") != "" {
		sizes = append(sizes, 1_000_000)
	}
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s, ctx := inventoryFile(b), context.Background()
			if err := gaptest.Fill(ctx, s, n/2, 7); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				rules, err := condition.LoadGapRules(ctx, s.Read(), gapDay)
				if err != nil {
					b.Fatal(err)
				}
				seen := 0
				err = condition.EachGap(ctx, s.Read(), rules, condition.GapOptions{AsOf: gapDay}, func(*condition.Gap, *opening.Check) error { seen++; return nil })
				if err != nil || seen != n {
					b.Fatal(seen, err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "joints/s")
		})
	}
}
