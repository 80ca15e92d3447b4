package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Errors that a caller can test for with errors.Is.
var (
	// ErrInvalid marks an instance that contradicts itself; the message says where.
	ErrInvalid = errors.New("invalid plan instance")
	// ErrInfeasible marks limits that no plan was found to keep. The result that
	// comes with it says which, and how much money would do.
	ErrInfeasible = errors.New("no feasible plan")
)

// NoLimit is the amount of a year without a limit.
const NoLimit = math.MaxInt64

// MaxYears is the longest horizon.
const MaxYears = 32

// Largest amounts that one option, visit or target may have, so that no sum over a
// network overflows or leaves the finite numbers.
const (
	maxCents = 1e13
	maxCost  = 1e12 // dollars, either sign
)

// Instance is a network to plan for, as flat slices: bridges hold joints, joints
// hold options, options hold charges. AddBridge, AddJoint and AddOption fill it in
// that order. Years count from 0.
//
// An option is everything that is done to a joint over the horizon: a fixed-year
// sequence of treatments, of which doing nothing (no charges) is one. The plan
// chooses one option for each joint.
type Instance struct {
	Years int // 1 to MaxYears

	FirstJoint   []int32   // by bridge, and one past the last; joint numbers
	VisitCost    []float64 // by bridge*Years+year: objective cost of a visit, discounted dollars, >= 0
	VisitCents   []int64   // by bridge*Years+year: budget money of a visit, >= 0
	VisitAccount []int32   // by bridge: account that pays for visits, -1 for none
	Route        []int32   // by bridge: route for the closure limits, -1 for none

	FirstOption []int32 // by joint, and one past the last; option numbers

	Cost        []float64 // by option: expected discounted cost without visits, dollars
	FirstCharge []int32   // by option, and one past the last; charge numbers
	Charges     []Charge

	Accounts [][]int32 // by account: the budgets that money drawn on it counts against
	Budgets  []Budget
	Closures []Closure
	Targets  []Target
	Rules    []Rule

	Contracts []Contract
}

// Charge is money that an option draws on an account for work in a year. The year
// counts as a visit to the bridge, even when Cents is 0. Several charges in one year
// are one treatment paid from several funds, or its money and its crew.
type Charge struct {
	Cents   int64 // >= 0
	Account int32 // index into Accounts, -1 for money outside every budget
	Year    int16 // of the work
	Lead    int16 // years before the work in which the money is drawn, 0 to Year
}

// Budget is money by year: of the network, a district or a fund. It may be any other
// thing that is used up in whole units, such as the shifts of a crew in hundredths.
type Budget struct {
	Name      string
	Cents     []int64 // by year; NoLimit for a year without a limit
	CarryOver bool    // money left in a year can be used later
}

// Closure limits the bridge visits on a route in each year.
type Closure struct {
	Name  string
	Route int32
	Limit []int64 // visits by year; NoLimit for a year without a limit
}

// Target is a cap on a sum over the network, such as the expected failed feet in
// some year. Use and Cap are in whole units of the caller's choice (hundredths of a
// foot, say), so that the sum is exact. With a price the sum counts in the objective
// as well, or only there when the cap is NoLimit.
type Target struct {
	Name  string
	Cap   int64
	Use   []int32 // by option, >= 0
	Price float64 // discounted dollars of the objective that each unit costs, >= 0
}

// RuleKind says what a person decided about a joint.
type RuleKind uint8

// The kinds of rule.
const (
	Pin     RuleKind = iota + 1 // must be treated in Year
	Hold                        // nothing before Year
	Exclude                     // nothing at all; Year is not used
)

// Rule is a decision of a person on one joint.
type Rule struct {
	Joint int32
	Kind  RuleKind
	Year  int32
}

// AddBridge appends a bridge. visitCost (discounted dollars) and visitCents have
// one value a year; account and route may be -1 for none.
func (in *Instance) AddBridge(visitCost []float64, visitCents []int64, account, route int32) {
	if len(in.FirstJoint) == 0 {
		in.FirstJoint = append(in.FirstJoint, 0)
	}
	in.FirstJoint = append(in.FirstJoint, in.FirstJoint[len(in.FirstJoint)-1])
	in.VisitCost = append(in.VisitCost, visitCost...)
	in.VisitCents = append(in.VisitCents, visitCents...)
	in.VisitAccount = append(in.VisitAccount, account)
	in.Route = append(in.Route, route)
}

// AddJoint appends a joint to the last bridge and returns its number.
func (in *Instance) AddJoint() int32 {
	if len(in.FirstOption) == 0 {
		in.FirstOption = append(in.FirstOption, 0)
	}
	in.FirstOption = append(in.FirstOption, in.FirstOption[len(in.FirstOption)-1])
	in.FirstJoint[len(in.FirstJoint)-1]++
	return int32(len(in.FirstOption) - 2)
}

// AddOption appends an option to the last joint and returns its number. cost is its
// expected discounted cost in dollars, without visits.
func (in *Instance) AddOption(cost float64, charges ...Charge) int32 {
	if len(in.FirstCharge) == 0 {
		in.FirstCharge = append(in.FirstCharge, 0)
	}
	in.Charges = append(in.Charges, charges...)
	in.FirstCharge = append(in.FirstCharge, int32(len(in.Charges)))
	in.Cost = append(in.Cost, cost)
	in.FirstOption[len(in.FirstOption)-1]++
	return int32(len(in.Cost) - 1)
}

// Grow makes room for so many times what is there, so that the slices of a large
// network are not copied again and again. Targets are left as they are.
func (in *Instance) Grow(times int) {
	in.FirstJoint, in.VisitCost, in.VisitCents = grow(in.FirstJoint, times), grow(in.VisitCost, times), grow(in.VisitCents, times)
	in.VisitAccount, in.Route, in.FirstOption = grow(in.VisitAccount, times), grow(in.Route, times), grow(in.FirstOption, times)
	in.Cost, in.FirstCharge, in.Charges = grow(in.Cost, times), grow(in.FirstCharge, times), grow(in.Charges, times)
}

// grow is s with room for so many times its length, and a little more.
func grow[T any](s []T, times int) []T {
	return slices.Grow(s, max(0, len(s)*times*17/16-len(s)))
}

func (in *Instance) bridges() int { return max(0, len(in.FirstJoint)-1) }
func (in *Instance) joints() int  { return max(0, len(in.FirstOption)-1) }
func (in *Instance) options() int { return len(in.Cost) }

// objective returns what option o costs with the price of targets, without visits.
func (in *Instance) objective(o int32) float64 {
	cost := in.Cost[o]
	for _, t := range in.Targets {
		cost += t.Price * float64(t.Use[o])
	}
	return cost
}

// charges returns the money of option o.
func (in *Instance) charges(o int32) []Charge {
	return in.Charges[in.FirstCharge[o]:in.FirstCharge[o+1]]
}

// visitYears returns the years of option o as bits.
func (in *Instance) visitYears(o int32) uint32 {
	var years uint32
	for _, c := range in.charges(o) {
		years |= 1 << c.Year
	}
	return years
}

// allows reports whether a rule leaves option o open to its joint.
func (in *Instance) allows(r Rule, o int32) bool {
	years := in.visitYears(o)
	switch r.Kind {
	case Pin:
		return years&(1<<r.Year) != 0
	case Hold:
		return years&(1<<r.Year-1) == 0
	default: // Exclude
		return years == 0
	}
}

// Validate reports the first contradiction in the instance as an ErrInvalid.
func (in *Instance) Validate() error {
	for _, check := range []func() error{in.checkShape, in.checkMoney, in.checkLimits, in.checkContracts, in.checkRules} {
		if err := check(); err != nil {
			return fmt.Errorf("%w: %w", ErrInvalid, err)
		}
	}
	return nil
}

func (in *Instance) checkShape() error {
	if in.Years < 1 || in.Years > MaxYears {
		return fmt.Errorf("years is %d, want 1 to %d", in.Years, MaxYears)
	}
	n := in.bridges()
	if len(in.VisitCost) != n*in.Years || len(in.VisitCents) != n*in.Years || len(in.VisitAccount) != n || len(in.Route) != n {
		return fmt.Errorf("visit costs, accounts or routes do not match %d bridges of %d years", n, in.Years)
	}
	if err := checkFirst("joint", in.FirstJoint, in.joints(), 0); err != nil {
		return err
	}
	if err := checkFirst("option", in.FirstOption, in.options(), 1); err != nil {
		return err
	}
	if in.options() > 0 && len(in.FirstCharge) != in.options()+1 {
		return fmt.Errorf("%d options, but charges for %d", in.options(), len(in.FirstCharge)-1)
	}
	return checkFirst("charge", in.FirstCharge, len(in.Charges), 0)
}

// checkFirst checks that first cuts 0..total into runs of at least least.
func checkFirst(what string, first []int32, total, least int) error {
	if len(first) == 0 {
		if total != 0 {
			return fmt.Errorf("%d %ss belong to nothing", total, what)
		}
		return nil
	}
	if first[0] != 0 || int(first[len(first)-1]) != total {
		return fmt.Errorf("the first %ss run from %d to %d, want 0 to %d", what, first[0], first[len(first)-1], total)
	}
	for i := 1; i < len(first); i++ {
		if int(first[i])-int(first[i-1]) < least {
			return fmt.Errorf("owner %d has %d %ss, want at least %d", i-1, first[i]-first[i-1], what, least)
		}
	}
	return nil
}

func (in *Instance) checkMoney() error {
	for o, c := range in.Cost {
		if !(math.Abs(c) <= maxCost) {
			return fmt.Errorf("option %d: cost %v, want a number of at most %g", o, c, maxCost)
		}
	}
	for i, c := range in.Charges {
		if c.Cents < 0 || c.Cents > maxCents || c.Lead < 0 || c.Year < c.Lead || int(c.Year) >= in.Years || c.Account < -1 || int(c.Account) >= len(in.Accounts) {
			return fmt.Errorf("charge %d: %+v has money below zero or too much, or a year or account that does not exist", i, c)
		}
	}
	for i, c := range in.VisitCost {
		if !(c >= 0 && c <= maxCost) || in.VisitCents[i] < 0 || in.VisitCents[i] > maxCents {
			return fmt.Errorf("bridge %d year %d: visit cost %v and cents %d, want zero or more and not too much", i/in.Years, i%in.Years, c, in.VisitCents[i])
		}
	}
	for b, a := range in.VisitAccount {
		if a < -1 || int(a) >= len(in.Accounts) {
			return fmt.Errorf("bridge %d: account %d does not exist", b, a)
		}
	}
	return nil
}

func (in *Instance) checkLimits() error {
	for a, budgets := range in.Accounts {
		seen := map[int32]bool{}
		for _, b := range budgets {
			if b < 0 || int(b) >= len(in.Budgets) || seen[b] {
				return fmt.Errorf("account %d: budget %d does not exist or is named twice", a, b)
			}
			seen[b] = true
		}
	}
	for _, b := range in.Budgets {
		if err := checkYears(b.Cents, in.Years); err != nil {
			return fmt.Errorf("budget %q: %w", b.Name, err)
		}
	}
	routes := map[int32]bool{}
	for _, c := range in.Closures {
		if err := checkYears(c.Limit, in.Years); err != nil {
			return fmt.Errorf("closures %q: %w", c.Name, err)
		}
		if c.Route < 0 || routes[c.Route] {
			return fmt.Errorf("closures %q: route %d is negative or limited twice", c.Name, c.Route)
		}
		routes[c.Route] = true
	}
	for _, t := range in.Targets {
		if len(t.Use) != in.options() || t.Cap < 0 {
			return fmt.Errorf("target %q: cap %d and %d uses for %d options", t.Name, t.Cap, len(t.Use), in.options())
		}
		for o, u := range t.Use {
			if price := t.Price * float64(u); u < 0 || !(t.Price >= 0 && price <= maxCost) {
				return fmt.Errorf("target %q: option %d uses %d at a price of %v, want zero or more and not too much", t.Name, o, u, t.Price)
			}
		}
	}
	return nil
}

func checkYears(amounts []int64, years int) error {
	if len(amounts) != years {
		return fmt.Errorf("%d years, want %d", len(amounts), years)
	}
	for y, a := range amounts {
		if a < 0 {
			return fmt.Errorf("year %d is %d, want zero or more", y, a)
		}
	}
	return nil
}

func (in *Instance) checkRules() error {
	for _, r := range in.Rules {
		if r.Kind < Pin || r.Kind > Exclude || r.Joint < 0 || int(r.Joint) >= in.joints() || r.Year < 0 || int(r.Year) >= in.Years {
			return fmt.Errorf("rule %+v: no such kind, joint or year", r)
		}
	}
	return nil
}
