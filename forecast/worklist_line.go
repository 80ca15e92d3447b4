package forecast

import (
	"cmp"
	"slices"

	"reseal/forecast/money"
)

// drawLine ranks the items, adds up their costs and draws the line.
func (w *WorkList) drawLine() error {
	visits := map[int64][]int{} // ranked items by bridge
	spent := map[int64]int64{}  // by bridge
	total := int64(0)
	w.Line = len(w.Ranked)
	for i := range w.Ranked {
		item := &w.Ranked[i]
		item.Rank = i + 1
		b := item.bridgeID
		visits[b] = append(visits[b], i)
		cost, err := w.reprice(visits[b])
		if err != nil {
			return err
		}
		total += cost - spent[b]
		spent[b] = cost
		item.CumulativeCents = total
		if w.BudgetCents > 0 && total > w.BudgetCents {
			w.Line = min(w.Line, i)
		}
	}
	// Above the line the visits are those above it; below, all of the bridge's.
	for _, all := range visits {
		cut, _ := slices.BinarySearch(all, w.Line)
		if _, err := w.reprice(all[:cut]); err != nil {
			return err
		}
	}
	for i := range w.Ranked {
		if i < w.Line {
			w.SpentCents = w.Ranked[i].CumulativeCents
		} else {
			w.Ranked[i].Part = BelowLine
		}
	}
	if w.Line < len(w.Ranked) {
		w.swaps()
	}
	return w.packages()
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
	Tag      string
	District string
	Route    string
	Words    string
	Reason   string
	By       string
	Dollars  float64
}

// override keeps the price of what was decided about a joint: of a pin, what
// waiting would have saved and the dearer treatment; of a hold or an exclusion,
// the cost of waiting the year. can tells whether the work can be done at all.
func (w *WorkList) override(j Projected, best, work FirstWork, can bool) {
	for i := range j.Decided {
		d := &j.Decided[i]
		o := Override{Tag: j.Tag, District: j.Bridge.District, Route: j.Bridge.Route, Words: d.Words(), Reason: d.Reason, By: d.CreatedBy}
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
