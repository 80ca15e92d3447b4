package condition

import (
	"context"
	"fmt"
	"time"

	"github.com/uptrace/bun"

	"reseal/inventory/setting"
)

// Season is the months in which a kind of seal can be installed in a climate, both
// included; a last month before the first is of the next year. Every fiscal year
// holds all months, so a season moves work within its year and not to another.
type Season struct {
	bun.BaseModel `bun:"table:seasons"`

	Name         string     `bun:"name"`
	SealKind     string     `bun:"seal_kind"` // empty: any
	Climate      string     `bun:"climate"`   // empty: any
	FirstMonth   time.Month `bun:"first_month"`
	LastMonth    time.Month `bun:"last_month"`
	Illustrative bool       `bun:"illustrative"`
}

// Seasons are the agency's table.
type Seasons []Season

// LoadSeasons reads the table.
func LoadSeasons(ctx context.Context, db bun.IDB) (Seasons, error) {
	var s Seasons
	if err := db.NewSelect().Model((*[]Season)(&s)).Order("id").Scan(ctx); err != nil {
		return nil, fmt.Errorf("read the seasons: %w", err)
	}
	return s, nil
}

// Of is the season of a seal kind in a climate: the row that names both, or else
// the kind, or else the climate, or else neither. Without one any month will do,
// which is the zero Season; so it will where no kind goes in.
func (s Seasons) Of(kind, climate string) Season {
	if kind == "" {
		return Season{}
	}
	row, _ := setting.Closest(s, func(row *Season) int {
		return setting.Rank([2]string{row.Climate, climate}, [2]string{row.SealKind, kind})
	})
	return row
}

// Words are the months, such as "May to September", and that they are illustrative
// where they are; empty where any month will do.
func (s Season) Words() string {
	months := int(s.LastMonth-s.FirstMonth+12)%12 + 1
	if s.FirstMonth == 0 || months == 12 {
		return ""
	}
	words := s.FirstMonth.String()
	if months > 1 {
		words += " to " + s.LastMonth.String()
	}
	if s.Illustrative {
		words += " (illustrative)"
	}
	return words
}
