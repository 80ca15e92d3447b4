package forecast

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Move is a joint that plans treat differently.
type Move struct {
	Tag, StructureNumber string
	District             string
	Does                 []string // by plan: treatments after their years; empty: nothing
}

// Moves lists the joints to which the plans do not do the same in the same years,
// in the order of bridge and joint.
func Moves(plans ...*Plan) []Move {
	moves := map[int64]*Move{}
	for k, p := range plans {
		for _, i := range p.Items { // by year
			m := moves[i.JointID]
			if m == nil {
				m = &Move{i.Tag, i.StructureNumber, i.District, make([]string, len(plans))}
				moves[i.JointID] = m
			}
			if m.Does[k] != "" {
				m.Does[k] += ", "
			}
			m.Does[k] += fmt.Sprintf("%d %s", i.Year, i.Treatment)
		}
	}
	var out []Move
	for _, m := range moves {
		if slices.ContainsFunc(m.Does, func(d string) bool { return d != m.Does[0] }) {
			out = append(out, *m)
		}
	}
	slices.SortFunc(out, func(a, b Move) int {
		return cmp.Or(strings.Compare(a.StructureNumber, b.StructureNumber), strings.Compare(a.Tag, b.Tag))
	})
	return out
}

// PlanPart is what plans do in one year or one district.
type PlanPart struct {
	Name  string
	Jobs  []int   // by plan
	Cents []int64 // by plan: of a year all that is spent, of a district without the bridge visits; nominal
}

// PlansByYear sets the years of plans side by side.
func PlansByYear(plans ...*Plan) []PlanPart {
	return parts(plans, func(p *Plan, add func(name string, jobs int, cents int64)) {
		for _, y := range p.Years {
			if !y.Part {
				add(fmt.Sprint(y.Year), 0, y.SpentCents)
			}
		}
		for _, i := range p.Items {
			add(fmt.Sprint(i.Year), 1, 0)
		}
	})
}

// PlansByDistrict sets the districts of plans side by side.
func PlansByDistrict(plans ...*Plan) []PlanPart {
	return parts(plans, func(p *Plan, add func(name string, jobs int, cents int64)) {
		for _, i := range p.Items {
			add(i.District, 1, i.CostCents)
		}
	})
}

// parts adds up each plan by name.
func parts(plans []*Plan, each func(*Plan, func(name string, jobs int, cents int64))) []PlanPart {
	all := map[string]*PlanPart{}
	for k, p := range plans {
		each(p, func(name string, jobs int, cents int64) {
			if all[name] == nil {
				all[name] = &PlanPart{name, make([]int, len(plans)), make([]int64, len(plans))}
			}
			all[name].Jobs[k] += jobs
			all[name].Cents[k] += cents
		})
	}
	var out []PlanPart
	for _, name := range slices.Sorted(maps.Keys(all)) {
		out = append(out, *all[name])
	}
	return out
}
