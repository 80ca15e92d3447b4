package forecast

import (
	"reseal/forecast/money"
)

// Charge is one treatment of a plan with its share of the visit.
type Charge struct {
	JointID   int64
	Year      int   // fiscal
	Cents     int64 // nominal; a plan's charges sum to what it spends
	ownCents  int64 // of Cents, without the visit
	treatment *Treatment
}

// Charges are those of a plan of the problem, by year: each with the part of its
// bridge's visit that goes with its own cost.
func (p *Problem) Charges(solved *Plan) ([]Charge, error) {
	in := &p.Instance
	at := map[int64]int{} // of p.joints
	bridge := make([]int, len(p.joints))
	for b := range max(len(in.FirstJoint)-1, 0) {
		for i := in.FirstJoint[b]; i < in.FirstJoint[b+1]; i++ {
			bridge[i] = b
		}
	}
	for i := range p.joints {
		at[p.joints[i].JointID] = i
	}
	type visit struct{ bridge, year int }
	visits := map[visit][]int{} // charges of each
	var order []visit
	out := make([]Charge, len(solved.Items))
	for k, item := range solved.Items {
		i := at[item.JointID]
		out[k] = Charge{JointID: item.JointID, Year: item.Year, Cents: item.CostCents, ownCents: item.CostCents}
		for _, t := range p.joints[i].treatments {
			if t.Name == item.Treatment {
				out[k].treatment = t
			}
		}
		v := visit{bridge[i], item.Year - p.FirstYear}
		if visits[v] == nil {
			order = append(order, v)
		}
		visits[v] = append(visits[v], k)
	}
	for _, v := range order {
		weights := make([]float64, len(visits[v]))
		for i, k := range visits[v] {
			weights[i] = float64(out[k].Cents)
		}
		shares, err := money.Split(in.VisitCents[v.bridge*in.Years+v.year], weights)
		if err != nil {
			return nil, err
		}
		for i, k := range visits[v] {
			out[k].Cents += shares[i]
		}
	}
	return out, nil
}
