package forecast

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/uptrace/bun"

	"reseal/condition"
	"reseal/forecast/money"
	"reseal/forecast/strategy"
	"reseal/inventory"
	"reseal/inventory/store"
)

// Life is a row of the life table: the median years that a foot of seal of one
// kind stays in each state before it worsens. Years are over 0.
type Life struct {
	bun.BaseModel `bun:"table:life_table"`

	Kind         string  `bun:"kind"`
	CS1Years     float64 `bun:"cs1_years"`
	CS2Years     float64 `bun:"cs2_years"`
	CS3Years     float64 `bun:"cs3_years"`
	Source       string  `bun:"source"`
	Illustrative bool    `bun:"illustrative"`
}

// Treatment is something that can be done to a joint, and its unit costs.
type Treatment struct {
	bun.BaseModel `bun:"table:treatments"`

	Name           string `bun:"name"`
	ForKinds       string `bun:"for_kinds"` // seal kinds, separated by semicolons; empty: any
	CostPerFtCents int64  `bun:"cost_per_ft_cents"`
	FixedCents     int64  `bun:"fixed_cents"`
	VisitCents     int64  `bun:"visit_cents"`   // mobilisation, once a bridge visit
	TrafficCents   int64  `bun:"traffic_cents"` // traffic control, likewise
	PriceYear      int    `bun:"price_year"`
	Source         string `bun:"source"`
	Illustrative   bool   `bun:"illustrative"`

	Effect       string  `bun:"effect"`                  // renews, repairs, removes or nothing; blank is renews
	RepairsShare float64 `bun:"repairs_share,nullzero"`  // of one that repairs: the most of the length that is made new
	NewKind      string  `bun:"new_kind"`                // seal kind that goes in; blank: the same kind
	ForFindings  string  `bun:"for_findings"`            // only where one of these is open, separated by semicolons; blank: any joint
	OnlyDecided  bool    `bun:"only_decided"`            // done only where a person decides so
	FeetPerShift float64 `bun:"feet_per_shift,nullzero"` // that a crew does in one closure; 0: by the rule of the crew's sheet
	NightCents   int64   `bun:"night_cents"`             // traffic control of each further night of a joint
}

// effects are the words of the treatments table.
var effects = []string{"renews", "repairs", "removes", "nothing"}

func (t *Treatment) effect() strategy.Effect {
	switch t.Effect {
	case "repairs":
		return strategy.Repairs
	case "removes":
		return strategy.Removes
	case "nothing":
		return strategy.Nothing
	}
	return strategy.Renews
}

// suits tells whether the treatment is for a seal kind; names is true where it
// says so by the kind's name.
func (t *Treatment) suits(kind string) (suits, names bool) {
	if strings.TrimSpace(t.ForKinds) == "" {
		return true, false
	}
	return listed(t.ForKinds, kind), true
}

// listed tells whether a list separated by semicolons has a word.
func listed(list, word string) bool {
	for w := range strings.SplitSeq(list, ";") {
		if strings.EqualFold(strings.TrimSpace(w), word) {
			return true
		}
	}
	return false
}

// costs are a treatment's unit costs at a joint of some length in a district, at the
// prices of another year. The joint's nights beyond the first are in its fixed part.
func (t *Tables) costs(of *Treatment, lengthFt float64, district string, year int) (money.UnitCosts, error) {
	nights := int64(t.nights(of, lengthFt) - 1)
	return money.UnitCosts{
		Treatment: of.Name, PerFootCents: of.CostPerFtCents, FixedCents: of.FixedCents + nights*of.NightCents,
		MobilisationCents: of.VisitCents, TrafficControlCents: of.TrafficCents,
		RegionalFactor: t.regional(district), ContingencyShare: t.Settings.ContingencyShare,
		PriceYear: of.PriceYear, Source: of.Source, Illustrative: of.Illustrative,
	}.AtYear(t.Prices, year)
}

// regional is what the unit costs are multiplied by in a district.
func (t *Tables) regional(district string) float64 {
	for _, f := range t.Factors {
		if f.District == district {
			return f.Factor
		}
	}
	return 1
}

// Consequence is what one cause of harm under a failed seal costs a year.
type Consequence struct {
	bun.BaseModel `bun:"table:consequences"`

	Cause        string  `bun:"cause"`
	DollarsAYear float64 `bun:"dollars_a_year"`
	Per          string  `bun:"per"`              // joint, ft or 1000 vehicles a day
	Deicing      string  `bun:"deicing,nullzero"` // of the bridge; empty: any
	Source       string  `bun:"source"`
	Illustrative bool    `bun:"illustrative"`
}

// Tables are the agency's tables and settings that a forecast rests on.
type Tables struct {
	Settings     Settings
	Lives        []Life
	Treatments   []Treatment // in the order of their entry
	Consequences []Consequence
	Factors      []CostFactor
	Prices       money.Prices        // how they rise
	Rates        money.Curve         // published; none: the setting real_discount_rate
	Fit          *Fit                // in use; nil: the life table
	Gaps         *condition.GapRules // of the opening check; nil: deterioration alone
}

// LoadTables reads the agency's tables and settings.
func LoadTables(ctx context.Context, db bun.IDB) (*Tables, error) {
	t := &Tables{}
	var err error
	if t.Settings, err = LoadSettings(ctx, db); err != nil {
		return nil, err
	}
	// The noise of readings is the agency's, whatever the day.
	if t.Gaps, err = condition.LoadGapRules(ctx, db, inventory.Date{Year: 9999, Month: time.December, Day: 31}); err != nil {
		return nil, err
	}
	if t.Fit, err = fitInUse(ctx, db); err != nil {
		return nil, fmt.Errorf("read the fit in use: %w", err)
	}
	var index []indexLevel
	for _, rows := range []any{&t.Lives, &t.Treatments, &t.Consequences, &t.Factors, &index} {
		if err := db.NewSelect().Model(rows).Order("id").Scan(ctx); err != nil {
			return nil, fmt.Errorf("read the agency's tables: %w", err)
		}
	}
	if t.Prices, err = prices(&t.Settings, index); err != nil {
		return nil, err
	}
	return t, t.loadRates(ctx, db)
}

// Illustrative names the tables in use that still hold starting values.
func (t *Tables) Illustrative() []string {
	var names []string
	add := func(name string, yes bool) {
		if yes && (len(names) == 0 || names[len(names)-1] != name) {
			names = append(names, name)
		}
	}
	for _, l := range t.Lives {
		add("life_table", l.Illustrative && t.Fit == nil)
	}
	for _, r := range t.Treatments {
		add("treatments", r.Illustrative)
	}
	for _, c := range t.Consequences {
		add("consequences", c.Illustrative)
	}
	for _, f := range t.Factors {
		add("cost_factors", f.Illustrative)
	}
	return names
}

// TreatmentFor is the usual renewal of a seal kind, with a seal of the same
// kind: the first that names the kind, or else the first that is for any.
func (t *Tables) TreatmentFor(kind string) (Treatment, error) {
	anyKind := -1
	for i := range t.Treatments {
		r := &t.Treatments[i]
		if r.OnlyDecided || r.effect() != strategy.Renews || r.ForFindings != "" || r.NewKind != "" && r.NewKind != kind {
			continue
		}
		switch suits, names := r.suits(kind); {
		case suits && names:
			return *r, nil
		case suits && anyKind < 0:
			anyKind = i
		}
	}
	if anyKind < 0 {
		return Treatment{}, store.NotFound("add one with: reseal settings table import treatments FILE", "no treatment renews %q", kind)
	}
	return t.Treatments[anyKind], nil
}

// Treatment returns the treatment of that name.
func (t *Tables) Treatment(name string) (Treatment, error) {
	for _, r := range t.Treatments {
		if strings.EqualFold(r.Name, name) {
			return r, nil
		}
	}
	return Treatment{}, store.NotFound("list them with: reseal settings table list treatments", "there is no treatment %q", name)
}

// AssumedDeicing stands in where a bridge's deicing is not on record.
const AssumedDeicing = "moderate"

// ConsequenceAYear is what a failed seal costs a year, in dollars of the table:
// the sum over its causes of
//
//	dollars a year × (1, the length in ft, or the vehicles a day / 1000)
//
// where the cause applies to the bridge's deicing. What is not on record counts
// as 0, except deicing: see AssumedDeicing.
func (t *Tables) ConsequenceAYear(lengthFt float64, deicing string, vehiclesADay int) float64 {
	if deicing == "" {
		deicing = AssumedDeicing
	}
	sum := 0.0
	for _, c := range t.Consequences {
		if c.Deicing != "" && c.Deicing != deicing {
			continue
		}
		switch c.Per {
		case "ft":
			sum += c.DollarsAYear * lengthFt
		case "1000 vehicles a day":
			sum += c.DollarsAYear * float64(vehiclesADay) / 1000
		default:
			sum += c.DollarsAYear
		}
	}
	return sum
}

// life is the row of a seal kind, or that of other seals; known is false where
// the row is not of that kind.
func (t *Tables) life(kind string) (row Life, known bool, err error) {
	other := -1
	for i, l := range t.Lives {
		if strings.EqualFold(l.Kind, kind) {
			return l, true, nil
		}
		if l.Kind == inventory.KindOther {
			other = i
		}
	}
	if other < 0 {
		return Life{}, false, store.NotFound("add a row with: reseal settings table import life_table FILE",
			"the life table has neither %q nor %q", kind, inventory.KindOther)
	}
	return t.Lives[other], false, nil
}
