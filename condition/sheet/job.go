package sheet

import (
	"errors"
	"fmt"
	"html/template"
	"math"

	"reseal/condition/opening"
)

// ErrInvalid marks a job that no sheet can be made from.
var ErrInvalid = errors.New("invalid job")

// Job is one joint, or one stage of it, and the work to do there. Blank text
// and zero numbers are left as a line to fill in by hand.
type Job struct {
	Structure, Joint, Facility, Feature      string
	Route, Milepost, Direction, Lanes, Stage string
	District                                 string
	LatDeg, LonDeg                           float64       // WGS 84; both 0: not known
	MapSVG                                   template.HTML // small location map, drawn by the caller and trusted; may be blank
	Existing                                 string        // what is there now, in words
	Work                                     Work          // what was approved
	Poor                                     Poor          // by the latest inspection
	Seal                                     opening.Seal  // what to install, or that a repair must match
	Openings                                 []opening.Expected
	WidthFt, SkewDeg                         float64 // roadway square to the centreline, and skew
	LengthFt                                 float64 // along the joint line; 0: width / cos skew
	HeaderRepairFt                           float64 // from the last inspection
	GapIn                                    float64 // opening to plan quantities with; 0: the one expected at 60 °F, or nearest to it
	SpeedMPH, OffsetFt                       float64 // for the taper; offset 0: a 12 ft lane
	WindowHours                              float64 // length of one closure
	Months                                   string  // in which such a seal is installed; empty: any
}

// Stage is one part of a staged job.
type Stage struct {
	Name, Lanes              string
	LengthFt, HeaderRepairFt float64
	Poor                     Poor
}

// Staged returns one job a stage, for one sheet each.
func (j Job) Staged(stages []Stage) []Job {
	jobs := make([]Job, len(stages))
	for i, s := range stages {
		jobs[i] = j
		jobs[i].Stage, jobs[i].Lanes = fmt.Sprintf("%d of %d: %s", i+1, len(stages), s.Name), s.Lanes
		jobs[i].LengthFt, jobs[i].HeaderRepairFt, jobs[i].Poor = s.LengthFt, s.HeaderRepairFt, s.Poor
	}
	return jobs
}

// Practice holds the figures that quantities and hours are worked out with. A
// zero field means its default. The defaults are common practice, no source;
// the product's own data sheet overrides each.
type Practice struct {
	WasteShare       float64 // of a length or a volume; 0.05
	StockLengthFt    float64 // longest piece of seal; 50
	SpliceFt         float64 // allowance a splice; 0.5
	Beads            float64 // of adhesive over the length; 4
	BeadIn           float64 // diameter of a bead; 3/8
	TubeOz           float64 // US fluid ounces in a tube; 20
	BlastHeightIn    float64 // of each face; 4
	PrimerHeightIn   float64 // of each face; 3
	HeaderWidthIn    float64 // of a header repair; 12
	HeaderDepthIn    float64 // of a header repair; 2
	PlugWidthIn      float64 // of an asphaltic plug; 20
	PlugDepthIn      float64 // of an asphaltic plug; 2
	SealFtPerHour    float64 // cleaned, primed and sealed; 12
	HeaderFtPerHour  float64 // cut out and replaced; 4
	SetUpHours       float64 // to close the lane, and to open it again; 1.5
	CureHours        float64 // seal, before traffic; 1
	HeaderCureHours  float64 // header, before traffic; 3
	PouredDepthShare float64 // of the opening, between ¼ and ½ in; 0.5
	RodShare         float64 // backer rod diameter over the opening; 1.25
	InstallMinF      float64 // deck temperature where the seal gives none; 40
}

func (p Practice) filled() Practice {
	set := func(v *float64, def float64) {
		if !(*v > 0) || math.IsInf(*v, 0) {
			*v = def
		}
	}
	set(&p.WasteShare, 0.05)
	set(&p.StockLengthFt, 50)
	set(&p.SpliceFt, 0.5)
	set(&p.Beads, 4)
	set(&p.BeadIn, 0.375)
	set(&p.TubeOz, 20)
	set(&p.BlastHeightIn, 4)
	set(&p.PrimerHeightIn, 3)
	set(&p.HeaderWidthIn, 12)
	set(&p.HeaderDepthIn, 2)
	set(&p.PlugWidthIn, 20)
	set(&p.PlugDepthIn, 2)
	set(&p.SealFtPerHour, 12)
	set(&p.HeaderFtPerHour, 4)
	set(&p.SetUpHours, 1.5)
	set(&p.CureHours, 1)
	set(&p.HeaderCureHours, 3)
	set(&p.PouredDepthShare, 0.5)
	set(&p.RodShare, 1.25)
	set(&p.InstallMinF, 40)
	return p
}

// Sheet is all that a crew needs for one joint, ready to write.
type Sheet struct {
	Job        Job
	LengthFt   float64 // along the joint line
	LengthSum  string  // how it was worked out
	WorkFt     float64 // of it that is worked on, at most
	GapIn      float64 // opening the quantities are for; 0: not known
	Limits     opening.Limits
	Quantities []Quantity
	Hours      Hours
	Tapers     Tapers
	GoNoGo     []string
	Steps      []Step
	Cautions   []string
}

// New works a sheet out. ErrInvalid where there is no length, no kind of seal,
// a number that makes no sense, a closure too short to work in, or no steps for
// the work.
func New(j Job, p Practice) (Sheet, error) {
	p = p.filled()
	if err := j.validate(); err != nil {
		return Sheet{}, err
	}
	if j.OffsetFt == 0 {
		j.OffsetFt = 12
	}
	if !j.Work.renews() && j.HeaderRepairFt > 0 {
		j.Existing += fmt.Sprintf("; header poor over %.1f ft, not in this work", j.HeaderRepairFt)
		j.HeaderRepairFt = 0
	}
	s := Sheet{Job: j, LengthFt: j.LengthFt, LengthSum: "measured along the joint line", GapIn: j.gapIn()}
	if s.LengthFt == 0 {
		s.LengthFt = j.WidthFt / math.Cos(j.SkewDeg*math.Pi/180)
		s.LengthSum = fmt.Sprintf("%.1f ft / cos %.0f°", j.WidthFt, j.SkewDeg)
	}
	s.WorkFt = s.LengthFt
	if j.Work.Repairs() {
		s.WorkFt *= j.Work.MostShare
	}
	s.Limits = j.Seal.LimitsAt(s.GapIn)
	s.Quantities = quantities(&s, p)
	hours, err := hoursFor(&s, p)
	if err != nil {
		return Sheet{}, err
	}
	s.Hours = hours
	s.Tapers = TapersFor(j.OffsetFt, j.SpeedMPH)
	s.GoNoGo = goNoGo(&s, p)
	s.Steps = steps(&s, p)
	s.Cautions = cautions(&s)
	return s, nil
}

func (j *Job) validate() error {
	for _, n := range []struct {
		what        string
		value, most float64
	}{
		{"width ft", j.WidthFt, 10000},
		{"length ft", j.LengthFt, 10000},
		{"header repair ft", j.HeaderRepairFt, 20000},
		{"gap in", j.GapIn, 1000},
		{"speed mph", j.SpeedMPH, 100},
		{"offset ft", j.OffsetFt, 200},
		{"closure hours", j.WindowHours, 10000},
	} {
		if !(n.value >= 0 && n.value <= n.most) {
			return fmt.Errorf("%w: %s is %g: give 0 to %g", ErrInvalid, n.what, n.value, n.most)
		}
	}
	for _, o := range j.Openings {
		if !(math.Abs(o.DeckTempF) <= 250 && math.Abs(o.GapIn) <= 1000 && math.Abs(o.LowIn) <= 1000 && math.Abs(o.HighIn) <= 1000) {
			return fmt.Errorf("%w: expected opening %+v", ErrInvalid, o)
		}
	}
	if err := j.Work.HasSheet(); err != nil {
		return fmt.Errorf("%w: %w", ErrInvalid, err)
	}
	switch {
	case j.Seal.Kind == "" && !j.Work.Cleans():
		return fmt.Errorf("%w: no kind of seal to install: choose one first", ErrInvalid)
	case !(math.Abs(j.SkewDeg) <= 80):
		return fmt.Errorf("%w: skew %g°: give -80 to 80", ErrInvalid, j.SkewDeg)
	case j.LengthFt == 0 && j.WidthFt == 0:
		return fmt.Errorf("%w: no length: enter the length of the joint, or the roadway width and skew", ErrInvalid)
	case !(math.Abs(j.LatDeg) <= 90 && math.Abs(j.LonDeg) <= 180):
		return fmt.Errorf("%w: position %g, %g", ErrInvalid, j.LatDeg, j.LonDeg)
	}
	return nil
}

// gapIn is the opening to plan with: as given, or that expected nearest 60 °F.
func (j *Job) gapIn() float64 {
	gap, best := j.GapIn, math.Inf(1)
	if gap == 0 {
		for _, o := range j.Openings {
			if off := math.Abs(o.DeckTempF - 60); off < best {
				gap, best = o.GapIn, off
			}
		}
	}
	return max(gap, 0)
}
