package forecast

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/uptrace/bun"

	"reseal/forecast/panel"
	"reseal/inventory/store"
)

// fitRow is a fit as stored.
type fitRow struct {
	bun.BaseModel `bun:"table:fits"`

	ID           int64         `bun:"id,pk,autoincrement"`
	MadeAt       store.Instant `bun:"made_at"`
	MadeBy       string        `bun:"made_by,nullzero"`
	InUse        bool          `bun:"in_use"`
	DataFrom     string        `bun:"data_from"`
	DataTo       string        `bun:"data_to"`
	Joints       int           `bun:"joints"`
	Bridges      int           `bun:"bridges"`
	Intervals    int           `bun:"intervals"`
	MinusTwoLogL float64       `bun:"minus_2_log_l"`
	Converged    bool          `bun:"converged"`
	Settings     string        `bun:"settings"`
	LeftOut      string        `bun:"left_out"`
	Estimates    string        `bun:"estimates"`
	ChangedAt    store.Instant `bun:"changed_at,nullzero"`
	ChangedBy    string        `bun:"changed_by,nullzero"`
}

// Save stores the fit and puts it in use where asked to; it sets ID, MadeAt and
// MadeBy.
func (f *Fit) Save(ctx context.Context, tx *store.Tx, use bool) error {
	f.MadeAt, f.MadeBy = tx.At, tx.Actor
	row := fitRow{
		MadeAt: tx.At, MadeBy: tx.Actor, DataFrom: f.From.String(), DataTo: f.To.String(), Joints: f.Joints,
		Bridges: f.Report.Clusters, Intervals: f.Report.Intervals, MinusTwoLogL: f.Report.MinusTwoLogL, Converged: f.Report.Converged,
		ChangedAt: tx.At, ChangedBy: tx.Actor,
	}
	for _, part := range []struct {
		to   *string
		from any
	}{{&row.Settings, f.Settings}, {&row.LeftOut, f.LeftOut}, {&row.Estimates, f}} {
		text, err := json.Marshal(part.from)
		if err != nil {
			return err
		}
		*part.to = string(text)
	}
	if _, err := tx.NewInsert().Model(&row).Exec(ctx); err != nil {
		return err
	}
	f.ID = row.ID
	if use {
		return UseFit(ctx, tx, f.ID)
	}
	return nil
}

// fit reads a stored fit back.
func (row fitRow) fit() (*Fit, error) {
	f := &Fit{}
	if err := json.Unmarshal([]byte(row.Estimates), f); err != nil {
		return nil, fmt.Errorf("fit %d: %w", row.ID, err)
	}
	f.ID, f.MadeAt, f.MadeBy, f.InUse = row.ID, row.MadeAt, row.MadeBy, row.InUse
	return f, nil
}

// Fits are the fits on record, the latest first.
func Fits(ctx context.Context, db bun.IDB) ([]*Fit, error) {
	var rows []fitRow
	if err := db.NewSelect().Model(&rows).Order("id DESC").Scan(ctx); err != nil {
		return nil, err
	}
	var out []*Fit
	for _, row := range rows {
		f, err := row.fit()
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// FitByID is one fit on record.
func FitByID(ctx context.Context, db bun.IDB, id int64) (*Fit, error) {
	return oneFit(ctx, db, "id = ?", id)
}

// fitInUse is the fit that forecasts rest on, or nil.
func fitInUse(ctx context.Context, db bun.IDB) (*Fit, error) {
	f, err := oneFit(ctx, db, "in_use")
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	return f, err
}

func oneFit(ctx context.Context, db bun.IDB, where string, args ...any) (*Fit, error) {
	var row fitRow
	err := db.NewSelect().Model(&row).Where(where, args...).Scan(ctx)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, store.NotFound("list them with: reseal fit --list", "there is no such fit")
	}
	if err != nil {
		return nil, err
	}
	return row.fit()
}

// UseFit puts a fit in use for forecasts; 0 is none: the life table.
func UseFit(ctx context.Context, tx *store.Tx, id int64) error {
	if id != 0 {
		f, err := FitByID(ctx, tx, id)
		if err != nil {
			return err
		}
		if !f.Report.Converged {
			return store.Invalid("fit again with fewer factors", "fit %d did not converge and cannot be used", id)
		}
	}
	for _, q := range []struct {
		set   int
		where string
	}{{0, "in_use AND id <> ?"}, {1, "NOT in_use AND id = ?"}} {
		_, err := tx.NewRaw("UPDATE fits SET in_use = ?, changed_at = ?, changed_by = ? WHERE "+q.where, q.set, tx.At, tx.Actor, id).Exec(ctx)
		if err != nil {
			return err
		}
	}
	return nil
}

// Words says which fit it is: "fit 3 to 1,204 intervals, 2012-05-02 to
// 2026-04-30".
func (f *Fit) Words() string {
	return fmt.Sprintf("fit %d to %d intervals, %s to %s", f.ID, f.Report.Intervals, f.From, f.To)
}

// KindLife is what a fit says of one seal kind, every other factor being at
// its reference.
type KindLife struct {
	Kind        string     `json:"kind"`
	MedianYears [3]float64 `json:"median_years"` // in CS1 to CS3
	TableYears  [3]float64 `json:"life_table_years"`
}

// KindLives are the fitted median years in each state of the seal kinds that
// were seen, beside the life table's.
func (f *Fit) KindLives(t *Tables) ([]KindLife, error) {
	at := slices.IndexFunc(f.Settings.Factors, func(x Factor) bool { return x.Name == "seal" })
	if at < 0 {
		l, err := f.kindLife(t, "all kinds", "", nil)
		return []KindLife{l}, err
	}
	seal := f.Settings.Factors[at]
	var out []KindLife
	first := 0
	for _, x := range f.Settings.Factors[:at] {
		first += len(x.Classes)
	}
	for i, kind := range append([]string{seal.Reference}, seal.Classes...) {
		if i > 0 && f.Settings.Empty[first+i-1] {
			continue
		}
		l, err := f.kindLife(t, kind, kind, f.Settings.Factors)
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

func (f *Fit) kindLife(t *Tables, name, kind string, factors []Factor) (KindLife, error) {
	x := make([]float64, len(covariateNames(f.Settings.Factors)))
	at := 0
	for _, factor := range factors {
		if i := slices.Index(factor.Classes, kind); factor.Name == "seal" && i >= 0 {
			x[at+i] = 1
		}
		at += len(factor.Classes)
	}
	chain, err := f.chain(f.Theta, x)
	if err != nil {
		return KindLife{}, err
	}
	row, _, err := t.life(kind)
	out := KindLife{Kind: name, TableYears: [3]float64{row.CS1Years, row.CS2Years, row.CS3Years}}
	copy(out.MedianYears[:], chain.MedianYears())
	return out, err
}

// Hazards say in plain words what makes seals wear faster or slower.
func (f *Fit) Hazards() (words []string) {
	names := map[string]string{}
	for _, x := range f.Settings.Factors {
		if x.Name != "seal" {
			for _, class := range x.Classes {
				names[x.Name+" "+class] = fmt.Sprintf("%s %s (against %s)", x.Name, class, x.Reference)
			}
		}
	}
	for _, e := range f.Report.Estimates {
		if what, ok := names[e.Name]; ok {
			words = append(words, panel.HazardWords(what, e))
		}
	}
	return words
}

// WornWords say how many seals removed for wear are taken to have failed; else they
// are empty.
func (f *Fit) WornWords() string {
	if !f.Settings.WornFailed {
		return ""
	}
	return fmt.Sprintf("%d seals removed for wear before anybody found them failed are taken to have failed by then", f.WornFailed)
}

// RatingWords say how often inspections are wrong, where that was estimated;
// else they are empty.
func (f *Fit) RatingWords() string {
	if !f.Settings.RatingError {
		return ""
	}
	e := f.Report.Estimates[len(f.Report.Estimates)-1]
	words := fmt.Sprintf("an inspection rates a foot one state off with a probability of %.1f %%", 100*e.Value)
	if e.SE > 0 {
		words += fmt.Sprintf(" (%.1f to %.1f %%)", 100*e.Lower, 100*e.Upper)
	}
	return words + fmt.Sprintf(", estimated;\n  %d intervals that end better than they began, with no work on record, were taken so", f.Improved)
}
