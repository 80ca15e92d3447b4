package sheet

import (
	"fmt"
	"math"

	"reseal/condition/opening"
)

// Quantity is one thing to bring, with the sum that led to it.
type Quantity struct {
	Name   string
	Amount float64
	Unit   string
	Sum    string
}

// pourable is a poured seal of which the material is not on record.
const pourable opening.Kind = "pourable seal"

// cubicInPerOz is exact: a US gallon is 231 in³ and 128 fluid ounces.
const cubicInPerOz = 231.0 / 128

func quantities(s *Sheet, p Practice) []Quantity {
	var q []Quantity
	if s.Job.Work.Cleans() {
		return nil
	}
	blast := faceArea("Blast cleaning, both faces", s.WorkFt, p.BlastHeightIn)
	primer := faceArea("Primer or adhesive film, both faces", s.WorkFt, p.PrimerHeightIn)
	switch s.Job.Seal.Kind {
	case opening.PouredSilicone, opening.PouredSealant, pourable:
		q = append(poured(s, p), blast, primer)
	case opening.AsphaltPlug:
		q = []Quantity{volume("Plug material", s.WorkFt, p.PlugWidthIn, p.PlugDepthIn, p), blast}
	case opening.Gland:
		q = []Quantity{sealLength(s, p), adhesive(s.WorkFt, p), blast, primer}
	case opening.StripSeal, opening.ModularJoint:
		q = []Quantity{sealLength(s, p), blast}
	default:
		q = []Quantity{sealLength(s, p), blast, primer}
	}
	if s.Job.Work.Repairs() {
		for i := range q {
			q[i].Name = "at most: " + q[i].Name
		}
	}
	if s.Job.HeaderRepairFt > 0 {
		q = append(q, volume("Header repair material", s.Job.HeaderRepairFt, p.HeaderWidthIn, p.HeaderDepthIn, p))
	}
	return q
}

func volume(name string, lengthFt, widthIn, depthIn float64, p Practice) Quantity {
	cubicFt := lengthFt * widthIn * depthIn / 144
	return Quantity{name, roundUp(cubicFt*(1+p.WasteShare), 0.1), "cu ft", fmt.Sprintf(
		"%.1f ft × %g in × %g in / 144 = %.2f cu ft, + %.0f %% waste", lengthFt, widthIn, depthIn, cubicFt, 100*p.WasteShare)}
}

// sealLength adds waste, and splices where the seal may have them: strip seals
// and the glands of modular joints go in in one piece.
func sealLength(s *Sheet, p Practice) Quantity {
	seal := &s.Job.Seal
	glands := max(1, float64(seal.Cells))
	splices := 0.0
	if seal.Kind != opening.StripSeal && seal.Kind != opening.ModularJoint {
		splices = math.Max(0, math.Ceil(s.WorkFt/p.StockLengthFt-1e-9)-1)
	}
	total := glands * (s.WorkFt*(1+p.WasteShare) + splices*p.SpliceFt)
	sum := fmt.Sprintf("%.1f ft + %.0f %% waste", s.WorkFt, 100*p.WasteShare)
	if splices > 0 {
		sum += fmt.Sprintf(" + %.0f splices × %g ft (pieces to %g ft)", splices, p.SpliceFt, p.StockLengthFt)
	}
	if glands > 1 {
		sum = fmt.Sprintf("%.0f glands × (%s)", glands, sum)
	}
	return Quantity{"Seal: " + sealName(seal), roundUp(total, 1), "ft", fmt.Sprintf("%s = %.1f ft", sum, total)}
}

func sealName(s *opening.Seal) string {
	if s.Size == "" {
		return string(s.Kind) + ", size as in place"
	}
	return string(s.Kind) + ", " + s.Size
}

// adhesive counts tubes from the section of a round bead: beads · π/4 · d² ·
// length.
func adhesive(lengthFt float64, p Practice) Quantity {
	section := math.Pi / 4 * p.BeadIn * p.BeadIn
	volume := p.Beads * section * 12 * lengthFt
	tube := p.TubeOz * cubicInPerOz
	return Quantity{"Adhesive", roundUp(volume*(1+p.WasteShare)/tube, 1), fmt.Sprintf("tubes of %g oz", p.TubeOz), fmt.Sprintf(
		"%g beads × π/4 × (%s in)² × %.1f ft × 12 = %.0f in³, + %.0f %% waste, / %.1f in³ a tube",
		p.Beads, Inches(p.BeadIn), lengthFt, volume, 100*p.WasteShare, tube)}
}

// poured is backer rod and sealant. Without an opening neither can be sized.
func poured(s *Sheet, p Practice) []Quantity {
	rodFt := s.WorkFt * (1 + p.WasteShare)
	rod := Quantity{"Backer rod, closed cell", roundUp(rodFt, 1), "ft", fmt.Sprintf("%.1f ft + %.0f %% waste = %.1f ft", s.WorkFt, 100*p.WasteShare, rodFt)}
	if s.GapIn == 0 {
		rod.Sum += "; diameter and sealant from the opening on the day"
		return []Quantity{rod}
	}
	diameter := roundUp(p.RodShare*s.GapIn, 0.125)
	rod.Sum += fmt.Sprintf("; diameter %g × %s in, up to ⅛: %s in", p.RodShare, Inches(s.GapIn), Inches(diameter))
	depth := min(max(p.PouredDepthShare*s.GapIn, 0.25), 0.5)
	volume := 12 * s.WorkFt * s.GapIn * depth
	return []Quantity{rod, {"Sealant", roundUp(volume*(1+p.WasteShare)/231, 0.1), "gal", fmt.Sprintf(
		"%.1f ft × 12 × %s in wide × %s in deep = %.0f in³, + %.0f %% waste, / 231", s.WorkFt, Inches(s.GapIn), Inches(depth), volume, 100*p.WasteShare)}}
}

func faceArea(name string, lengthFt, heightIn float64) Quantity {
	area := 2 * lengthFt * heightIn / 12
	return Quantity{name, roundUp(area, 1), "sq ft", fmt.Sprintf("2 × %.1f ft × %g in / 12 = %.1f sq ft", lengthFt, heightIn, area)}
}

func roundUp(x, step float64) float64 { return math.Ceil(x/step-1e-9) * step }

// Hours is the time in the lane.
type Hours struct {
	Work       float64 // hours of work between set-up and cure
	Shifts     int     // closures; 0 where the window is not given
	Closure    float64 // hours of closure, all shifts together
	Sum        string
	ShiftsSum  string
	CureHours  float64 // before traffic, in each closure
	SetUpHours float64
}

func hoursFor(s *Sheet, p Practice) (Hours, error) {
	h := Hours{CureHours: p.CureHours, SetUpHours: p.SetUpHours}
	if s.Job.Work.Cleans() {
		h.CureHours = 0
		h.Sum = "by the pace of your own crew at cleaning; set-up is not in it"
		h.ShiftsSum = fmt.Sprintf("planned as one; %g h to close and open the lane", h.SetUpHours)
		return h, nil
	}
	h.Work = s.WorkFt / p.SealFtPerHour
	h.Sum = fmt.Sprintf("%.1f ft / %g ft an hour", s.WorkFt, p.SealFtPerHour)
	if repair := s.Job.HeaderRepairFt; repair > 0 {
		h.Work += repair / p.HeaderFtPerHour
		h.Sum += fmt.Sprintf(" + header %.1f ft / %g", repair, p.HeaderFtPerHour)
		h.CureHours = max(h.CureHours, p.HeaderCureHours)
	}
	h.Sum += fmt.Sprintf(" = %.1f h", h.Work)
	if s.Job.WindowHours == 0 {
		h.ShiftsSum = "closure window not given"
		return h, nil
	}
	var err error
	if h.Shifts, err = Closures(h.Work, s.Job.WindowHours, h.SetUpHours, h.CureHours); err != nil {
		return Hours{}, err
	}
	h.Closure = h.Work + float64(h.Shifts)*(h.SetUpHours+h.CureHours)
	closures := "closures"
	if h.Shifts == 1 {
		closures = "closure"
	}
	h.ShiftsSum = fmt.Sprintf("%.1f h / (%g h window − %g h set-up − %g h cure) → %d %s; %.1f h + %d × %g h = %.1f h closed",
		h.Work, s.Job.WindowHours, h.SetUpHours, h.CureHours, h.Shifts, closures, h.Work, h.Shifts, h.SetUpHours+h.CureHours, h.Closure)
	return h, nil
}

// Closures is how many closures some hours of work take, each of which has its hours of
// set-up and of cure. A closure that leaves less than half an hour gives ErrInvalid.
func Closures(workHours, windowHours, setUpHours, cureHours float64) (int, error) {
	each := windowHours - setUpHours - cureHours
	if each < 0.5 {
		return 0, fmt.Errorf("%w: a closure of %g h leaves %.1f h to work after %g h of set-up and %g h of cure: ask for a longer one",
			ErrInvalid, windowHours, each, setUpHours, cureHours)
	}
	return int(roundUp(workHours/each, 1)), nil
}

// atLeast and atMost write a lower and an upper limit to 1/16 in, rounded to
// the safe side.
func atLeast(in float64) string { return Inches(math.Ceil(in*16-1e-9) / 16) }
func atMost(in float64) string  { return Inches(math.Floor(in*16+1e-9) / 16) }

// Inches writes inches to the nearest 1/16, as a tape shows them: "1 7/16".
func Inches(in float64) string {
	sign := ""
	if in < 0 {
		sign, in = "−", -in
	}
	n := int(math.Floor(in*16 + 0.5))
	whole, part, of := n/16, n%16, 16
	for part > 0 && part%2 == 0 {
		part, of = part/2, of/2
	}
	switch {
	case n == 0:
		return "0"
	case part == 0:
		return fmt.Sprintf("%s%d", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d", sign, part, of)
	default:
		return fmt.Sprintf("%s%d %d/%d", sign, whole, part, of)
	}
}
