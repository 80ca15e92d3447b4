package forecast

import "reseal/inventory"

// ProjectRisk is a committed bridge project that will renew joints, and the
// harm that their seals in place are expected to do if left alone until then:
// present values at the start of the first year, in constant dollars.
type ProjectRisk struct {
	State, StructureNumber, Route string
	Kind                          string
	Year                          int // fiscal
	Joints                        int
	UntilDollars                  float64 // up to the middle of the project's year
	LateDollars                   float64 // in the year after that: what it costs if the project comes a year late
}

// addRisk adds one joint that a committed project will renew to the list, in
// which the joints of a bridge follow each other.
func addRisk(list []ProjectRisk, j *Projected) []ProjectRisk {
	p := j.Prospect
	if p.project < 0 {
		return list
	}
	b, year := j.Bridge, p.FirstYear+p.project
	if n := len(list); n == 0 || list[n-1].State != b.State || list[n-1].StructureNumber != b.StructureNumber {
		list = append(list, ProjectRisk{State: b.State, StructureNumber: b.StructureNumber, Route: b.Route, Kind: projectIn(j.Projects, year), Year: year})
	}
	until := p.Value.HarmUntil(p.project)
	to := &list[len(list)-1]
	to.Joints++
	to.UntilDollars += until
	to.LateDollars += p.Value.HarmUntil(p.project+1) - until
	return list
}

func projectIn(projects []inventory.Project, year int) string {
	for _, p := range projects {
		if p.Year == year {
			return p.Kind
		}
	}
	return ""
}
