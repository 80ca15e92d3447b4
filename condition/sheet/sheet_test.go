package sheet_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"reseal/condition/opening"
	"reseal/condition/sheet"
)

var update = flag.Bool("update", false, "write the expected sheets under testdata/sheet anew")

const goldenDir = "../../testdata/sheet"

// sampleMap is a stand-in for the caller's location map.
const sampleMap = `<svg viewBox="0 0 300 110" role="img" aria-label="location"><rect width="300" height="110" fill="#fff" stroke="#000"/>` +
	`<path d="M0 80 L120 60 L300 20" stroke="#000" stroke-width="3" fill="none"/><path d="M60 110 Q110 50 210 0" stroke="#888" stroke-width="6" fill="none"/>` +
	`<circle cx="120" cy="60" r="6" fill="none" stroke="#000" stroke-width="2"/><text x="132" y="76" font-size="12">joint</text></svg>`

// samples are ten invented jobs of different kinds, the last one staged.
func samples(t *testing.T) []sheet.Sheet {
	t.Helper()
	pick := func(kind opening.Kind, size string) opening.Seal {
		for _, s := range opening.Catalogue() {
			if s.Kind == kind && s.Size == size {
				return s
			}
		}
		t.Fatalf("no %s %s in the catalogue", kind, size)
		return opening.Seal{}
	}
	rows := []struct {
		seal             opening.Seal
		lengthFt, skew   float64
		at60In, headerFt float64
		existing         string
	}{
		{pick(opening.Gland, "2¼ in movement"), 160, 12, 1.9, 18, "pourable seal, adhesion lost over 60 %"},
		{pick(opening.PouredSilicone, "width of the opening"), 70, 0, 1.25, 0, "asphaltic plug, rutted"},
		{pick(opening.PouredSealant, "width of the opening"), 40, 0, 1.5, 4, "poured sealant, cracked full depth"},
		{pick(opening.Compression, "3 in wide"), 120, 15, 1.9, 0, "compression seal, punctured"},
		{pick(opening.StripSeal, "4 in"), 300, 10, 2.1, 0, "strip seal, pulled out over 6 ft"},
		{pick(opening.Foam, "2 in wide"), 90, 20, 1.3, 10, "open joint"},
		{pick(opening.AsphaltPlug, "1 in movement"), 60, 0, 1.5, 0, "compression seal, missing"},
		{pick(opening.ModularJoint, "3 cells of 3 in"), 700, 0, 5, 0, "modular joint, two glands torn"},
		{pick(opening.Gland, "4 in movement"), 280, 30, 3.0, 44, "strip seal in loose extrusions"},
	}
	var jobs []sheet.Job
	for i, r := range rows {
		j := opening.Joint{ExpansionLengthFt: r.lengthFt, SkewDeg: r.skew}
		l, err := opening.Fit(j, []opening.Reading{
			{Year: 2021.5, DeckTempF: 84, GapIn: j.OpeningIn(r.at60In, 60, 84)},
			{Year: 2024.8, DeckTempF: 48, GapIn: j.OpeningIn(r.at60In, 60, 48)},
		}, opening.Settings{})
		if err != nil {
			t.Fatal(err)
		}
		jobs = append(jobs, sheet.Job{
			Structure: fmt.Sprintf("INVENTED-%04d", 1200+i), Joint: fmt.Sprint(i%3 + 1), Facility: "State Route 99 northbound viaduct", Feature: "Mill Creek and county road",
			Route: "SR 99", Milepost: fmt.Sprintf("MP %.2f", 12.3+float64(i)), Direction: "northbound", Lanes: "1, 2 and right shoulder", District: "North",
			LatDeg: 45.5 + 0.01*float64(i), LonDeg: -122.6, MapSVG: sampleMap, Existing: r.existing, Seal: r.seal, Openings: l.ExpectedOpenings(2026.5),
			WidthFt: 42, SkewDeg: r.skew, HeaderRepairFt: r.headerFt, SpeedMPH: 65, WindowHours: 9,
		})
	}
	staged := jobs[0].Staged([]sheet.Stage{{Name: "left lanes", Lanes: "1", LengthFt: 22.5, HeaderRepairFt: 6}, {Name: "right lane and shoulder", Lanes: "2", LengthFt: 20.4}})
	var sheets []sheet.Sheet
	for _, j := range append(jobs, staged[0]) {
		s, err := sheet.New(j, sheet.Practice{})
		if err != nil {
			t.Fatalf("%s: %v", j.Seal.Kind, err)
		}
		sheets = append(sheets, s)
	}
	return sheets
}

// golden compares with a file that was looked at, printed, before it was kept.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join(goldenDir, name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

func TestWriteText(t *testing.T) {
	var b bytes.Buffer
	if err := sheet.WriteText(&b, samples(t)[0]); err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(b.String(), "\n") {
		if n := len([]rune(line)); n > 100 {
			t.Errorf("line %d has %d columns, want up to 100", i+1, n)
		}
	}
	golden(t, "gland.txt", b.Bytes())
}

func TestWriteHTML(t *testing.T) {
	var b bytes.Buffer
	if err := sheet.WriteHTML(&b, samples(t)); err != nil {
		t.Fatal(err)
	}
	golden(t, "ten.html", b.Bytes())
}

// TestPrintsOnePageEach prints the ten sheets through a headless browser on
// both papers: each joint must keep to its page.
func TestPrintsOnePageEach(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a browser")
	}
	browser, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("chromium is needed: %v", err)
		}
		t.Skip("chromium is not to be had")
	}
	sheets := samples(t)
	var b bytes.Buffer
	if err := sheet.WriteHTML(&b, sheets); err != nil {
		t.Fatal(err)
	}
	for _, paper := range []string{"letter", "A4"} {
		dir := t.TempDir()
		in, out := filepath.Join(dir, "in.html"), filepath.Join(dir, "out.pdf")
		html := strings.Replace(b.String(), "@page {", "@page { size: "+paper+";", 1)
		if err := os.WriteFile(in, []byte(html), 0o644); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
			"--user-data-dir="+filepath.Join(dir, "profile"), "--print-to-pdf="+out, "file://"+in)
		if text, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		pdf, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if got := len(regexp.MustCompile(`/Type\s*/Page\b`).FindAll(pdf, -1)); got != len(sheets) {
			t.Errorf("%s: got %d pages for %d sheets", paper, got, len(sheets))
		}
	}
}

// What people typed is text, never markup.
func TestWriteHTMLEscapes(t *testing.T) {
	s := samples(t)[0]
	s.Job.Facility = `<script>alert("x")</script>`
	var b bytes.Buffer
	if err := sheet.WriteHTML(&b, []sheet.Sheet{s}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<script>") {
		t.Error("a facility name came through as markup")
	}
}

// Quantities by hand. The defaults are common practice, no source.
func TestQuantities(t *testing.T) {
	base := sheet.Job{LengthFt: 44, GapIn: 2, Seal: opening.Seal{Kind: opening.Gland, Size: "any", MinIn: 0.75, MaxIn: 3}}
	poured := base
	poured.GapIn, poured.Seal = 0.75, opening.Seal{Kind: opening.PouredSilicone, OpenShare: 1, CloseShare: 0.5}
	modular, plug := base, base
	modular.Seal = opening.Seal{Kind: opening.ModularJoint, Size: "3 cells of 3 in", Cells: 3, MaxIn: 9}
	plug.Seal = opening.Seal{Kind: opening.AsphaltPlug, MovementIn: 1}
	long := base
	long.LengthFt, long.HeaderRepairFt = 120, 10
	tests := []struct {
		name, quantity string
		job            sheet.Job
		want           float64
		unit           string
	}{
		// 44 · 1.05 = 46.2
		{"seal", "Seal: preformed gland, any", base, 47, "ft"},
		// 4 · π/4 · 0.375² · 44 · 12 = 233.3 in³; · 1.05 / 36.09 = 6.79
		{"tubes", "Adhesive", base, 7, "tubes of 20 oz"},
		// 2 · 44 · 4/12 = 29.3; 2 · 44 · 3/12 = 22
		{"blasting", "Blast cleaning, both faces", base, 30, "sq ft"},
		{"primer", "Primer or adhesive film, both faces", base, 22, "sq ft"},
		// 120 · 1.05 + 2 · 0.5 = 127
		{"splices", "Seal: preformed gland, any", long, 127, "ft"},
		// 10 · 12 · 2 / 144 = 1.667; · 1.05 = 1.75
		{"header", "Header repair material", long, 1.8, "cu ft"},
		// 3 · (44 · 1.05) = 138.6
		{"glands", "Seal: modular joint, 3 cells of 3 in", modular, 139, "ft"},
		// 44 · 20 · 2 / 144 = 12.22; · 1.05 = 12.83
		{"plug", "Plug material", plug, 12.9, "cu ft"},
		{"rod", "Backer rod, closed cell", poured, 47, "ft"},
		// 12 · 44 · 0.75 · 0.375 = 148.5 in³; · 1.05 / 231 = 0.675
		{"sealant", "Sealant", poured, 0.7, "gal"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := sheet.New(tt.job, sheet.Practice{})
			if err != nil {
				t.Fatal(err)
			}
			for _, q := range s.Quantities {
				if q.Name == tt.quantity {
					if math.Abs(q.Amount-tt.want) > 1e-9 || q.Unit != tt.unit {
						t.Errorf("got %g %s (%s), want %g %s", q.Amount, q.Unit, q.Sum, tt.want, tt.unit)
					}
					return
				}
			}
			t.Errorf("no %q among %+v", tt.quantity, s.Quantities)
		})
	}
}

// 50 ft at 30° of skew is 57.735 ft along the joint.
func TestLengthAlongSkew(t *testing.T) {
	s, err := sheet.New(sheet.Job{WidthFt: 50, SkewDeg: 30, Seal: opening.Seal{Kind: opening.Gland}}, sheet.Practice{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(s.LengthFt-57.735) > 5e-4 {
		t.Errorf("got %.4f ft, want 57.735", s.LengthFt)
	}
}

func TestHours(t *testing.T) {
	job := sheet.Job{LengthFt: 48, WindowHours: 6, Seal: opening.Seal{Kind: opening.Gland}}
	header := job
	header.HeaderRepairFt, header.WindowHours = 8, 7
	tests := []struct {
		name          string
		job           sheet.Job
		work, closure float64
		shifts        int
	}{
		// 48/12 = 4 h in windows of 6 − 1.5 − 1 = 3.5 h: 2; 4 + 2·2.5 = 9
		{"two closures", job, 4, 9, 2},
		// 4 + 8/4 = 6 h in windows of 7 − 1.5 − 3 = 2.5 h: 3; 6 + 3·4.5 = 19.5
		{"with header", header, 6, 19.5, 3},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := sheet.New(tt.job, sheet.Practice{})
			if err != nil {
				t.Fatal(err)
			}
			h := s.Hours
			if h.Work != tt.work || h.Closure != tt.closure || h.Shifts != tt.shifts {
				t.Errorf("got %g h, %d closures, %g h closed; want %g, %d, %g", h.Work, h.Shifts, h.Closure, tt.work, tt.shifts, tt.closure)
			}
		})
	}
}

func TestNewRefuses(t *testing.T) {
	good := sheet.Job{LengthFt: 44, Seal: opening.Seal{Kind: opening.Gland}}
	tests := []struct {
		name  string
		spoil func(*sheet.Job)
	}{
		{"no seal", func(j *sheet.Job) { j.Seal.Kind = "" }},
		{"no length", func(j *sheet.Job) { j.LengthFt = 0 }},
		{"length not a number", func(j *sheet.Job) { j.LengthFt = math.NaN() }},
		{"skew", func(j *sheet.Job) { j.SkewDeg = 90 }},
		{"closure too short", func(j *sheet.Job) { j.WindowHours = 2.5 }},
		{"speed", func(j *sheet.Job) { j.SpeedMPH = -5 }},
		{"position", func(j *sheet.Job) { j.LatDeg = math.Inf(1) }},
		{"opening", func(j *sheet.Job) { j.Openings = []opening.Expected{{DeckTempF: math.NaN()}} }},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			j := good
			tt.spoil(&j)
			if _, err := sheet.New(j, sheet.Practice{}); !errors.Is(err, sheet.ErrInvalid) {
				t.Errorf("got error %v, want ErrInvalid", err)
			}
		})
	}
}

func TestInches(t *testing.T) {
	for _, tt := range []struct {
		in   float64
		want string
	}{{0, "0"}, {0.02, "0"}, {0.0625, "1/16"}, {0.375, "3/8"}, {1, "1"}, {1.4375, "1 7/16"}, {1.97, "2"}, {-0.5, "−1/2"}} {
		if got := sheet.Inches(tt.in); got != tt.want {
			t.Errorf("%g: got %q, want %q", tt.in, got, tt.want)
		}
	}
}

// A limit is never printed wider than it is: 1.2 to 2.55 in is 1 1/4 to 2 1/2.
func TestLimitsRoundInward(t *testing.T) {
	s, err := sheet.New(sheet.Job{LengthFt: 44, Seal: opening.Seal{Kind: opening.Compression, MinIn: 1.2, MaxIn: 2.55}}, sheet.Practice{})
	if err != nil {
		t.Fatal(err)
	}
	if want := "within 1 1/4 to 2 1/2 in"; !strings.Contains(strings.Join(s.GoNoGo, " "), want) {
		t.Errorf("got %q, want it to say %q", s.GoNoGo, want)
	}
}

// Every sheet that New makes prints, whatever the numbers, and names the
// cautions that must not be missing.
func TestAnySheetPrints(t *testing.T) {
	catalogue := opening.Catalogue()
	rapid.Check(t, func(t *rapid.T) {
		j := sheet.Job{
			Seal: rapid.SampledFrom(catalogue).Draw(t, "seal"), WidthFt: rapid.Float64Range(0, 500).Draw(t, "width"), SkewDeg: rapid.Float64Range(-80, 80).Draw(t, "skew"),
			HeaderRepairFt: rapid.Float64Range(0, 100).Draw(t, "header"), GapIn: rapid.Float64Range(0, 30).Draw(t, "gap"), SpeedMPH: rapid.Float64Range(0, 80).Draw(t, "speed"),
			WindowHours: rapid.Float64Range(0, 60).Draw(t, "window"), Facility: rapid.String().Draw(t, "facility"),
		}
		low := rapid.Float64Range(-5, 30).Draw(t, "low")
		for i := range rapid.IntRange(0, 40).Draw(t, "steps") {
			j.Openings = append(j.Openings, opening.Expected{DeckTempF: -30 + 5*float64(i), GapIn: low - 0.1*float64(i), LowIn: low - 0.2*float64(i), HighIn: low})
		}
		s, err := sheet.New(j, sheet.Practice{})
		if err != nil {
			return
		}
		var text, html bytes.Buffer
		if err := sheet.WriteText(&text, s); err != nil {
			t.Fatal(err)
		}
		if err := sheet.WriteHTML(&html, []sheet.Sheet{s}); err != nil {
			t.Fatal(err)
		}
		for _, out := range []string{strings.Join(strings.Fields(text.String()), " "), html.String()} {
			for _, must := range []string{"engineer in charge", "Silica dust", "Lead paint", "traffic control plan governs", "takes precedence"} {
				if !strings.Contains(out, must) {
					t.Fatalf("the sheet does not say %q", must)
				}
			}
			if strings.Contains(out, "NaN") || strings.Contains(out, "Inf ") {
				t.Fatalf("a number is not finite:\n%s", out)
			}
		}
	})
}
