// Package plan chooses what to do to each joint of a network, and when, within the
// money of each year.
//
// It is for the planner and the budget officer: given, for every joint, the options
// over the horizon with their expected cost and money, it finds the choice of least
// expected cost that keeps the budgets, shares the mobilisation of a bridge visit
// among the joints treated in it, obeys what people have pinned, held or excluded,
// and says how far from the best possible plan it can be.
//
// The method: every limit is priced (Lagrange multipliers), each bridge then decides
// alone, and the sum is a proven bound; repair and exchange turn those decisions into
// a plan; branch and bound closes small networks. A visit is shared within its bridge
// exactly for bridges of up to 8 joints, and by a valid relaxation beyond.
//
// A contract that comes to its least or to nothing has no price while it is open which
// of the two. First go the options that no contract could be filled with: what filling
// takes from the year's money is bounded by its jobs of least money. The plan decides each
// contract, trades decisions for what costs less, and prices what is decided; branch and
// bound splits on them too. Where contracts join the bridges of several districts, each is
// solved for itself at the prices of what they share, and their bounds add up.
//
// Costs are discounted dollars of the objective, budgets are nominal cents of their
// year; the two are never mixed.
//
// The package reads no database, clock or flag. An Instance may be shared by
// goroutines that only read it; Solve itself uses several and returns the same result
// whatever their number.
package plan
