package inventory

import (
	"context"
	"slices"

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

// ProjectsOn returns the projects of a bridge, by year.
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
// ProjectColumns; it starts as NewProject.
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
	if err := p.alone(ctx, tx); err != nil {
		return err
	}
	_, err = tx.NewInsert().Model(&p).Exec(ctx)
	return err
}

// EditProject changes columns of ProjectColumns of a project of a bridge.
func EditProject(ctx context.Context, tx *store.Tx, bridge string, id int64, e Edit) error {
	b, err := FindBridge(ctx, tx, bridge)
	if err != nil {
		return err
	}
	all, err := ProjectsOn(ctx, tx, b.ID)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(all, func(p Project) bool { return p.ID == id })
	if i < 0 {
		return store.NotFound("", "the bridge has no project %d", id)
	}
	p := &all[i]
	if err := e.apply(p, p.Stamp, ProjectColumns()); err != nil {
		return err
	}
	if err := p.alone(ctx, tx); err != nil {
		return err
	}
	tx.Changed(&p.Stamp)
	_, err = tx.NewUpdate().Model(p).WherePK().Exec(ctx)
	return err
}

// alone refuses a project that cannot be, or that is on record already.
func (p *Project) alone(ctx context.Context, db bun.IDB) error {
	if err := p.Validate(); err != nil {
		return err
	}
	twice, err := db.NewSelect().Model((*Project)(nil)).Where("bridge_id = ? AND kind = ? AND year = ? AND id <> ?", p.BridgeID, p.Kind, p.Year, p.ID).Exists(ctx)
	if err == nil && twice {
		return store.Invalid("change that one", "the project %s of %d is on record already", p.Kind, p.Year)
	}
	return err
}
