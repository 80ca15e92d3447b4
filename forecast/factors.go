package forecast

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Factor is something in the inventory that rates may depend on, in classes.
// The classes are our own choice, no source, but those of deicing and climate,
// which are the inventory's.
type Factor struct {
	Name      string   `json:"name"`
	Reference string   `json:"reference"` // the class that the rates are of
	Classes   []string `json:"classes"`   // the others, each with an effect
}

// notOnRecord is the class of joints of which a factor is not on record.
const notOnRecord = "not on record"

// FactorNames lists the factors that a fit can take in.
func FactorNames() []string {
	return []string{"seal", "traffic", "trucks", "deicing", "freeze", "skew", "header", "era"}
}

// class is the class of a seal of a joint.
func (f *Factor) class(r *Record, s *Seal) string {
	class := notOnRecord
	switch f.Name {
	case "seal":
		class = s.Kind
	case "header":
		class = s.Header
	case "traffic":
		class = perLane(float64(r.Bridge.VehiclesADay), r.Lanes, 2000, 6000)
	case "trucks":
		if r.Bridge.TrucksPct >= 0 {
			class = perLane(float64(r.Bridge.VehiclesADay)*r.Bridge.TrucksPct/100, r.Lanes, 200, 800)
		}
	case "deicing":
		class = r.Bridge.Deicing
	case "freeze":
		class = r.Bridge.Climate
	case "skew":
		if r.SkewDeg >= 0 {
			class = "to 30°"
		}
		if r.SkewDeg > 30 {
			class = "over 30°"
		}
	case "era":
		class = era(s.Installed.Year)
	}
	if class == "" {
		return notOnRecord
	}
	return class
}

func perLane(aDay float64, lanes int, light, heavy float64) string {
	switch {
	case lanes == 0 || aDay == 0:
		return notOnRecord
	case aDay/float64(lanes) < light:
		return fmt.Sprintf("under %.0f a lane a day", light)
	case aDay/float64(lanes) < heavy:
		return fmt.Sprintf("%.0f to %.0f a lane a day", light, heavy)
	}
	return fmt.Sprintf("over %.0f a lane a day", heavy)
}

var eras = []string{"installed before 1990", "installed 1990–2004", "installed 2005–2014", "installed from 2015 on"}

func era(year int) string {
	switch {
	case year == 0:
		return notOnRecord
	case year < 1990:
		return eras[0]
	case year < 2005:
		return eras[1]
	case year < 2015:
		return eras[2]
	}
	return eras[3]
}

// factors makes the factors of the names, with the seal kinds and headers that
// the inventory has.
func factors(ctx context.Context, db bun.IDB, names []string) ([]Factor, error) {
	var out []Factor
	for i, name := range names {
		f := Factor{Name: name}
		lanes := func(light, heavy float64) {
			f.Reference = perLane(light/2, 1, light, heavy)
			f.Classes = []string{perLane(light, 1, light, heavy), perLane(heavy, 1, light, heavy), notOnRecord}
		}
		switch name {
		case "seal", "header":
			var err error
			if f.Reference, f.Classes, err = sealTexts(ctx, db, name); err != nil {
				return nil, err
			}
		case "traffic":
			lanes(2000, 6000)
		case "trucks":
			lanes(200, 800)
		case "deicing":
			f.Reference, f.Classes = "none", []string{"light", "moderate", "heavy", notOnRecord}
		case "freeze":
			f.Reference, f.Classes = "moderate", []string{"cold", notOnRecord}
		case "skew":
			f.Reference, f.Classes = "to 30°", []string{"over 30°", notOnRecord}
		case "era":
			f.Reference, f.Classes = eras[3], append(slices.Clone(eras[:3]), notOnRecord)
		default:
			return nil, store.Invalid("they are "+strings.Join(FactorNames(), ", "), "there is no factor %q", name)
		}
		if slices.Contains(names[:i], name) {
			return nil, store.Invalid("name it once", "the factor %q is there twice", name)
		}
		out = append(out, f)
	}
	return out, nil
}

// mostClasses is how many seal kinds or headers have an effect of their own;
// rarer ones share that of seals not on record.
const mostClasses = 10

// sealTexts are the seal kinds or headers on record, the most frequent first.
func sealTexts(ctx context.Context, db bun.IDB, what string) (reference string, classes []string, err error) {
	column := map[string]string{"seal": "kind", "header": "header"}[what]
	var found []string
	err = db.NewRaw(`SELECT ? FROM seals WHERE coalesce(?, '') <> '' GROUP BY 1 ORDER BY count(*) DESC, 1 LIMIT ?`,
		bun.Ident(column), bun.Ident(column), mostClasses).Scan(ctx, &found)
	if err != nil || len(found) == 0 {
		return notOnRecord, nil, err
	}
	return found[0], append(found[1:], notOnRecord), nil
}

// covariates is the row of covariates of a seal: 1 for each of its classes
// that is not a reference.
func covariates(dst []float64, factors []Factor, r *Record, s *Seal) []float64 {
	for i := range factors {
		f := &factors[i]
		class := f.class(r, s)
		if class != f.Reference && !slices.Contains(f.Classes, class) {
			class = notOnRecord
		}
		for _, c := range f.Classes {
			x := 0.0
			if c == class {
				x = 1
			}
			dst = append(dst, x)
		}
	}
	return dst
}

// covariateNames are the names of covariates in their order.
func covariateNames(factors []Factor) (names []string) {
	for _, f := range factors {
		for _, c := range f.Classes {
			names = append(names, f.Name+" "+c)
		}
	}
	return names
}
