package condition

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory"
)

// Rule is one thing that can be missing or contradictory in the data. The
// query returns what it concerns (a joint's tag or a bridge's number) and the
// words about it.
type Rule struct {
	Name   string // short, for people
	Weight string // WeightSafety, WeightWrong or WeightMissing
	Remedy string // what to do, in words
	// Command is that of the command line which does it, where there is one.
	Command string
	query   string // columns ref, detail; @today is the day
}

// Advice is the remedy with its command.
func (r *Rule) Advice() string {
	if r.Command == "" {
		return r.Remedy
	}
	return r.Remedy + ": " + r.Command
}

// How much a broken rule matters, worst first.
const (
	WeightSafety  = "look now"
	WeightWrong   = "contradiction"
	WeightMissing = "missing"
)

// Broken is one case of a broken rule.
type Broken struct {
	Rule   *Rule
	Ref    string
	Detail string
}

// Check runs every rule on the whole inventory and calls fn for each case,
// the rules that matter most first.
//
// With names it runs only the rules of those names.
func Check(ctx context.Context, db bun.IDB, today inventory.Date, fn func(Broken) error, names ...string) error {
	for i := range Rules {
		if len(names) > 0 && !slices.Contains(names, Rules[i].Name) {
			continue
		}
		if err := Rules[i].each(ctx, db, today, fn); err != nil {
			return fmt.Errorf("check %s: %w", Rules[i].Name, err)
		}
	}
	return nil
}

func (r *Rule) each(ctx context.Context, db bun.IDB, today inventory.Date, fn func(Broken) error) error {
	query := strings.ReplaceAll(r.query, "@today", "'"+today.String()+"'")
	rows, err := db.QueryContext(ctx, "SELECT ref, coalesce(detail, '') FROM ("+query+") AS cases")
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		b := Broken{Rule: r}
		if err := rows.Scan(&b.Ref, &b.Detail); err != nil {
			return err
		}
		if err := fn(b); err != nil {
			return err
		}
	}
	return rows.Err()
}
