package forecast

import (
	"cmp"
	"slices"

	"reseal/forecast/money"
)

// drawLine ranks the items, puts those that the budget reaches before the
// others, both by rank, and adds up their costs.
func (w *WorkList) drawLine() error {
	for i := range w.Ranked {
		w.Ranked[i].Rank, w.Ranked[i].Part = i+1, BelowLine
	}
	if err := w.fit(); err != nil {
		return err
	}
	slices.SortStableFunc(w.Ranked, func(a, b WorkItem) int { return trueFirst(a.Part == Ranked, b.Part == Ranked) })
	w.Line = len(w.Ranked)
	if first := slices.IndexFunc(w.Ranked, func(i WorkItem) bool { return i.Part == BelowLine }); first >= 0 {
		w.Line = first
	}
	visits := map[int64]*visit{}
	total := int64(0)
	for i := range w.Ranked {
		v := visitTo(visits, w.Ranked[i].bridgeID)
		cost, err := w.reprice(append(v.items, i))
		if err != nil {
			return err
		}
		total += cost - v.cents
		v.items, v.cents = append(v.items, i), cost
		w.Ranked[i].CumulativeCents = total
		if i < w.Line {
			w.SpentCents = total
		}
	}
	// Above the line the visits are those above it; below, all of the bridge's.
	for _, v := range visits {
		cut, _ := slices.BinarySearch(v.items, w.Line)
		if _, err := w.reprice(v.items[:cut]); err != nil {
			return err
		}
	}
	if w.Line < len(w.Ranked) {
		w.swaps()
	}
	return w.packages()
}

// visit is the items of one bridge, and what they cost together.
type visit struct {
	items []int
	cents int64
}

func visitTo(visits map[int64]*visit, bridge int64) *visit {
	if visits[bridge] == nil {
		visits[bridge] = &visit{}
	}
	return visits[bridge]
}

// fit marks as Ranked what the budget reaches: by rank, each item that still
// fits. One may fit only after another of its bridge pays for the visit, so it
// goes through the rest until nothing more does.
func (w *WorkList) fit() error {
	visits := map[int64]*visit{}
	total := int64(0)
	for again := true; again; {
		again = false
		for i := range w.Ranked {
			item := &w.Ranked[i]
			if item.Part == Ranked {
				continue
			}
			v := visitTo(visits, item.bridgeID)
			cost, err := w.reprice(append(v.items, i))
			if err != nil {
				return err
			}
			if w.BudgetCents > 0 && total+cost-v.cents > w.BudgetCents {
				continue
			}
			total += cost - v.cents
			v.items, v.cents = append(v.items, i), cost
			item.Part, again = Ranked, w.BudgetCents > 0
		}
	}
	return nil
}

// PassedOver are the items below the line that rank above the last one over it:
// they cost more than was left when their turn came.
func (w *WorkList) PassedOver() []WorkItem {
	last := 0
	for i := range w.Ranked[:w.Line] {
		last = max(last, w.Ranked[i].Rank)
	}
	below := w.Ranked[w.Line:]
	for n := range below {
		if below[n].Rank > last {
			return below[:n]
		}
	}
	return below
}

// reprice shares one visit among ranked items and returns what it costs.
func (w *WorkList) reprice(which []int) (int64, error) {
	jobs := make([]money.Job, len(which))
	for k, i := range which {
		jobs[k] = w.Ranked[i].job()
	}
	costs, err := price(jobs, w.Year)
	if err != nil {
		return 0, err
	}
	sum := int64(0)
	for k, i := range which {
		w.Ranked[i].CostCents = costs[k]
		sum += costs[k]
	}
	return sum, nil
}

// Package is the joints of one bridge that are done in one visit.
type Package struct {
	StructureNumber string
	Route           string
	Milepost        *float64
	Tags            []string
	CostCents       int64 // nominal
	SavingCents     int64 // nominal, against a visit for each joint
}

// packages groups what is above the line by bridge, the largest saving first.
func (w *WorkList) packages() error {
	byBridge := map[int64][]int{}
	var order []int64
	for i := range w.Ranked[:w.Line] {
		b := w.Ranked[i].bridgeID
		if byBridge[b] == nil {
			order = append(order, b)
		}
		byBridge[b] = append(byBridge[b], i)
	}
	for _, b := range order {
		which := byBridge[b]
		if len(which) < 2 {
			continue
		}
		first := &w.Ranked[which[0]]
		p := Package{StructureNumber: first.StructureNumber, Route: first.Route, Milepost: first.Milepost}
		for _, i := range which {
			alone, err := price([]money.Job{w.Ranked[i].job()}, w.Year)
			if err != nil {
				return err
			}
			p.Tags = append(p.Tags, w.Ranked[i].Tag)
			p.CostCents += w.Ranked[i].CostCents
			p.SavingCents += alone[0] - w.Ranked[i].CostCents
		}
		w.Packages = append(w.Packages, p)
	}
	slices.SortStableFunc(w.Packages, func(a, b Package) int { return cmp.Compare(b.SavingCents, a.SavingCents) })
	return nil
}

// Swap is a change of the line: Out gives its place to In. Dollars is what that
// costs, in constant dollars: the cost of waiting of Out less that of In.
type Swap struct {
	Out, In string // tags
	Dollars float64
}

// swapsLooked is how far from the line swaps are looked for.
const swapsLooked = 40

// swaps finds the two swaps of different joints that keep the budget and cost
// least. Joints of one bridge with others keep their places: taking them out
// would move the shares of the visit.
func (w *WorkList) swaps() {
	alone := map[int64]int{}
	for i := range w.Ranked {
		alone[w.Ranked[i].bridgeID]++
	}
	left := w.BudgetCents - w.SpentCents
	var all []Swap
	for i := max(0, w.Line-swapsLooked); i < w.Line; i++ {
		out := &w.Ranked[i]
		for k := w.Line; k < min(w.Line+swapsLooked, len(w.Ranked)); k++ {
			in := &w.Ranked[k]
			if !out.PinnedYear && alone[out.bridgeID] == 1 && alone[in.bridgeID] == 1 && in.CostCents <= left+out.CostCents {
				all = append(all, Swap{out.Tag, in.Tag, out.WaitDollars - in.WaitDollars})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Swap) int { return cmp.Compare(a.Dollars, b.Dollars) })
	for _, s := range all {
		if len(w.Swaps) == 0 || len(w.Swaps) == 1 && w.Swaps[0].Out != s.Out && w.Swaps[0].In != s.In {
			w.Swaps = append(w.Swaps, s)
		}
	}
}

// Override is what a person decided about a joint and what it costs against
// the list without it, in constant dollars; below 0 it saves.
type Override struct {
	Tag     string
	Words   string
	Reason  string
	By      string
	Dollars float64
}

// override keeps the price of what was decided about a joint: of a pin, what
// waiting would have saved and the dearer treatment; of a hold or an exclusion,
// the cost of waiting the year. can tells whether the work can be done at all.
func (w *WorkList) override(j Projected, best, work FirstWork, can bool) {
	for i := range j.Decided {
		d := &j.Decided[i]
		o := Override{Tag: j.Tag, Words: d.Words(), Reason: d.Reason, By: d.CreatedBy}
		switch {
		case !can:
			o.Words += "; nothing can be done in the year"
		case d.What == Pin && d.Year == w.Year:
			o.Dollars = max(0, -best.Wait) + work.Dollars - best.Dollars
		case d.What == Exclude, d.What == Hold && w.Year < d.Year, d.What == Pin:
			o.Dollars = max(0, best.Wait)
		case d.What == FixTreatment:
			if free, ok := j.Prospect.bestOfAll(); ok {
				o.Dollars = best.Dollars - free
			}
		}
		w.Overrides = append(w.Overrides, o)
	}
}
