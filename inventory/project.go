package inventory

import (
	"context"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
)

// Project is bridge work to come that the plan must know of.
type Project struct {
	bun.BaseModel `bun:"table:projects,alias:p" json:"-"`

	ID        int64  `bun:"id,pk,autoincrement" json:"id"`
	UID       string `bun:"uid,nullzero" json:"uid"`
	BridgeID  int64  `bun:"bridge_id" json:"bridge_id"`
	Kind      string `bun:"kind" json:"kind"`
	Year      int    `bun:"year" json:"year"`
	Certainty string `bun:"certainty,nullzero" json:"certainty"`
	Notes     string `bun:"notes,nullzero" json:"notes,omitempty"`

	WithdrawnOn  Date   `bun:"withdrawn_on" json:"withdrawn_on,omitzero"` // zero: it stands
	WithdrawnWhy string `bun:"withdrawn_why,nullzero" json:"withdrawn_why,omitempty"`
	store.Stamp
}

// The kinds of bridge projects, and how certain they are.
var (
	ProjectKinds = []string{"overlay", "deck replacement", "bridge replacement", "other"}
	Certainties  = []string{"committed", "likely", "possible"}
)

// Years that a project may be of.
const (
	firstProjectYear = 1900
	lastProjectYear  = 2200
)

// NewProject is a project of a bridge that is not on record yet: likely, until
// somebody says otherwise.
func NewProject(bridgeID int64) Project { return Project{BridgeID: bridgeID, Certainty: "likely"} }

// Withdrawn tells whether the project will not come: nothing is planned around it.
func (p *Project) Withdrawn() bool { return !p.WithdrawnOn.IsZero() }

// ProjectsOn returns the projects of a bridge, by year, withdrawn ones too.
func ProjectsOn(ctx context.Context, db bun.IDB, bridgeID int64) ([]Project, error) {
	var out []Project
	err := db.NewSelect().Model(&out).Where("bridge_id = ?", bridgeID).Order("year", "id").Scan(ctx)
	return out, err
}

// ProjectColumns are what people may set of a project.
func ProjectColumns() []string { return []string{"kind", "year", "certainty", "notes"} }

// Validate says what cannot be on record of a project.
func (p *Project) Validate() error {
	switch {
	case !slices.Contains(ProjectKinds, p.Kind):
		return store.Invalid("", "a project is one of %q, not %q", ProjectKinds, p.Kind)
	case p.Year < firstProjectYear || p.Year > lastProjectYear:
		return store.Invalid("give the fiscal year of the project, for example 2029", "a project needs a year between %d and %d", firstProjectYear, lastProjectYear)
	case !slices.Contains(Certainties, p.Certainty):
		return store.Invalid("", "a project is one of %q, not %q", Certainties, p.Certainty)
	}
	return nil
}

// AddProject puts a project of a bridge on record, with columns of
// ProjectColumns; it starts as NewProject. One of that kind and year that was
// withdrawn stands again.
func AddProject(ctx context.Context, tx *store.Tx, bridge string, e Edit) error {
	b, err := FindBridge(ctx, tx, bridge)
	if err != nil {
		return err
	}
	p := NewProject(b.ID)
	p.UID, p.Stamp = tx.NewUID(), tx.Created()
	if err := e.apply(&p, store.Stamp{ChangedAt: e.Seen}, ProjectColumns()); err != nil {
		return err
	}
	old, err := p.alone(ctx, tx)
	if err != nil {
		return err
	}
	if old != nil {
		p.ID, p.UID, p.Stamp = old.ID, old.UID, old.Stamp
		return p.save(ctx, tx)
	}
	_, err = tx.NewInsert().Model(&p).Exec(ctx)
	return err
}

// EditProject changes columns of ProjectColumns of a project of a bridge.
func EditProject(ctx context.Context, tx *store.Tx, bridge string, id int64, e Edit) error {
	p, err := standingProject(ctx, tx, bridge, id)
	if err != nil {
		return err
	}
	if err := e.apply(p, p.Stamp, ProjectColumns()); err != nil {
		return err
	}
	old, err := p.alone(ctx, tx)
	if err != nil {
		return err
	}
	if old != nil {
		return store.Invalid("withdraw this one, and add that one anew", "the %s of %d is on record as withdrawn", p.Kind, p.Year)
	}
	return p.save(ctx, tx)
}

// WithdrawProject keeps on record that a project of a bridge will not come, as of a
// day, and why. seen is when it was last changed as the person saw it; empty: no
// matter.
func WithdrawProject(ctx context.Context, tx *store.Tx, bridge string, id int64, on Date, why string, seen store.Instant) error {
	p, err := standingProject(ctx, tx, bridge, id)
	if err != nil {
		return err
	}
	if err := (Edit{Seen: seen}).apply(p, p.Stamp, nil); err != nil {
		return err
	}
	if p.WithdrawnOn, p.WithdrawnWhy = on, strings.TrimSpace(why); p.WithdrawnWhy == "" {
		return store.Invalid("say why, for example: the money went to another bridge", "a project is withdrawn with a reason")
	}
	return p.save(ctx, tx)
}

func (p *Project) save(ctx context.Context, tx *store.Tx) error {
	tx.Changed(&p.Stamp)
	_, err := tx.NewUpdate().Model(p).WherePK().Exec(ctx)
	return err
}

// standingProject is a project of a bridge that is not withdrawn.
func standingProject(ctx context.Context, tx *store.Tx, bridge string, id int64) (*Project, error) {
	b, err := FindBridge(ctx, tx, bridge)
	if err != nil {
		return nil, err
	}
	all, err := ProjectsOn(ctx, tx, b.ID)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(p Project) bool { return p.ID == id })
	if i < 0 {
		return nil, store.NotFound("", "the bridge has no project %d", id)
	}
	p := &all[i]
	if p.Withdrawn() {
		return nil, store.Invalid("add it anew if it comes after all", "the %s of %d was withdrawn on %s: %s", p.Kind, p.Year, p.WithdrawnOn, p.WithdrawnWhy)
	}
	return p, nil
}

// alone refuses a project that cannot be, or that is on record already. One of its
// kind and year that was withdrawn is returned.
func (p *Project) alone(ctx context.Context, db bun.IDB) (withdrawn *Project, err error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	all, err := ProjectsOn(ctx, db, p.BridgeID)
	if err != nil {
		return nil, err
	}
	for i := range all {
		switch o := &all[i]; {
		case o.Kind != p.Kind || o.Year != p.Year || o.ID == p.ID:
		case o.Withdrawn():
			return o, nil
		default:
			return nil, store.Invalid("change that one", "the project %s of %d is on record already", p.Kind, p.Year)
		}
	}
	return nil, nil
}
