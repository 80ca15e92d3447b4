package plan

import "math"

// rows are all limits of an instance as one list, use <= limit in whole units:
// budget years first (budget*years+year), then closures, the parts of contracts, and
// targets. A budget
// with carry-over limits what is spent up to a year, not in it.
type rows struct {
	years      int
	limit      []int64
	budgets    int // rows below this are cents
	firstGoal  int // rows from here on are targets
	slotFirst  []int32
	slotRows   []int32 // rows that money in an account and year (a slot) adds to
	closureRow []int32 // by route*years+year, -1 for none
	firstPart  int     // rows from here on are parts of contracts, and have no limit until those are decided
	partOf     []int32 // by account, the row of its part in the first year, -1 for none; nil without contracts
	contracts  []contractYear
}

func newRows(in *Instance) *rows {
	r := &rows{years: in.Years}
	r.limit = budgetLimits(in.Budgets)
	r.budgets = len(r.limit)
	r.addClosures(in)
	r.firstPart = len(r.limit)
	r.addContracts(in)
	r.firstGoal = len(r.limit)
	for _, t := range in.Targets {
		r.limit = append(r.limit, t.Cap)
	}
	r.addSlots(in)
	return r
}

// budgetLimits returns the limit of each budget and year: what may be spent in the
// year, or up to it.
func budgetLimits(budgets []Budget) []int64 {
	var limit []int64
	for _, b := range budgets {
		var sum int64
		for _, c := range b.Cents {
			sum = addSaturated(sum, c)
			if b.CarryOver {
				c = sum
			}
			limit = append(limit, c)
		}
	}
	return limit
}

// addSaturated adds two amounts; NoLimit and more is NoLimit.
func addSaturated(a, b int64) int64 {
	if a > NoLimit-b {
		return NoLimit
	}
	return a + b
}

func (r *rows) addClosures(in *Instance) {
	routes := int32(0)
	for _, route := range in.Route {
		routes = max(routes, route+1)
	}
	r.closureRow = make([]int32, int(routes)*r.years)
	for i := range r.closureRow {
		r.closureRow[i] = -1
	}
	for _, c := range in.Closures {
		for y, limit := range c.Limit {
			if c.Route < routes && limit != NoLimit {
				r.closureRow[int(c.Route)*r.years+y] = int32(len(r.limit))
			}
			r.limit = append(r.limit, limit)
		}
	}
}

func (r *rows) addSlots(in *Instance) {
	r.slotFirst = append(r.slotFirst, 0)
	for a, budgets := range in.Accounts {
		for y := range r.years {
			for _, b := range budgets {
				last := y
				if in.Budgets[b].CarryOver {
					last = r.years - 1
				}
				for row := int(b)*r.years + y; row <= int(b)*r.years+last; row++ {
					if r.limit[row] != NoLimit {
						r.slotRows = append(r.slotRows, int32(row))
					}
				}
			}
			if r.partOf != nil && r.partOf[a] >= 0 {
				r.slotRows = append(r.slotRows, r.partOf[a]+int32(y))
			}
			r.slotFirst = append(r.slotFirst, int32(len(r.slotRows)))
		}
	}
}

// of returns the rows that money in a slot adds to; slot -1 is outside all budgets.
func (r *rows) of(slot int32) []int32 {
	if slot < 0 {
		return nil
	}
	return r.slotRows[r.slotFirst[slot]:r.slotFirst[slot+1]]
}

// slot numbers an account and year.
func (r *rows) slot(account, year int32) int32 {
	if account < 0 {
		return -1
	}
	return account*int32(r.years) + year
}

// closure returns the row that a visit on a route in a year adds to, or -1.
func (r *rows) closure(route int32, year int) int32 {
	if route < 0 {
		return -1
	}
	return r.closureRow[int(route)*r.years+year]
}

// scales returns a size for each row, so that multipliers times scale are dollars
// of one order whatever the row's unit.
func (r *rows) scales(typical []int64) []float64 {
	s := make([]float64, len(r.limit))
	for i, limit := range r.limit {
		s[i] = math.Max(1, float64(typical[i]))
		if limit != NoLimit && limit > 0 {
			s[i] = float64(limit)
		}
	}
	for _, c := range r.contracts {
		for i, row := range c.rows {
			s[row] = float64(c.least[i])
		}
	}
	return s
}
