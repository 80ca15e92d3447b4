package plan

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// filler finds the options that let a contract which the limits do not let be filled.
//
// What filling takes from a limit is bounded from below: joints come in by what they
// take for each unit of the contract, least first, the last of them in part. A visit is
// shared out among the joints of its bridge that could be in the contract.
type filler struct {
	m       *model
	goal    *goal
	marked  []bool
	of      []int32    // contract year, by row from firstPart on
	members [][]member // by contract year, of the contract at hand

	rows   []int32   // that an option takes from, at hand
	takes  []float64 // by row
	joint  []portion // by row, of the joint at hand
	seen   []int32   // rows that it may take from
	needed []filling // by row
	total  float64   // that its joints could be together

	taken   []float64 // by row: the most that one contract which is let takes at least
	takenBy []int32   // that contract year, or -1
	held    bool      // any contract is let
	stuck   bool      // one that is cannot be filled
}

// member is an option that counts in a contract, and how many joints of its bridge
// could share its visits.
type member struct {
	joint, option int32
	sharing       float64
}

// portion is the most of a contract's part that a joint could be, and what each unit of
// that takes from a limit at least.
type portion struct {
	most, each float64
	options    int
}

// filling is what the joints of a contract take from a limit, least first, and what is
// taken when all before a joint are in.
type filling struct {
	joints       []portion
	most, before []float64
}

func newFiller(m *model, g *goal, marked []bool) *filler {
	f := &filler{m: m, goal: g, marked: marked, of: make([]int32, m.rows.firstGoal-m.rows.firstPart)}
	f.members = make([][]member, len(m.rows.contracts))
	f.takes, f.joint, f.needed = make([]float64, len(g.limit)), make([]portion, len(g.limit)), make([]filling, len(g.limit))
	f.taken, f.takenBy = make([]float64, len(g.limit)), make([]int32, len(g.limit))
	for k, c := range m.rows.contracts {
		for _, r := range c.rows {
			f.of[int(r)-m.rows.firstPart] = int32(k)
		}
	}
	return f
}

// contract marks options of a contract, and reports whether it marked any.
func (f *filler) contract(contract int) bool {
	f.gather(contract)
	more := false
	for k := range f.m.rows.contracts {
		c := &f.m.rows.contracts[k]
		if c.contract != contract || len(f.members[k]) == 0 || !math.IsInf(f.goal.penalty[c.rows[0]], 1) {
			continue
		}
		for i, row := range c.rows {
			more = f.part(f.members[k], row, float64(c.least[i])) || more
			if f.goal.least[row] > 0 {
				f.hold(int32(k), float64(c.least[i]))
			}
		}
	}
	return more
}

// forget begins a round.
func (f *filler) forget() {
	clear(f.taken)
	for r := range f.takenBy {
		f.takenBy[r] = -1
	}
}

// hold notes what a contract that is let takes at least by its part at hand.
func (f *filler) hold(k int32, least float64) {
	f.held, f.stuck = true, f.stuck || f.total < least
	for r := range f.needed {
		if n := f.needed[r].least(least); n > f.taken[r] {
			f.taken[r], f.takenBy[r] = n, k
		}
	}
}

// others marks options outside a contract that is let for which it leaves no money, and
// reports whether it marked any. Visits that the contract's bridges could share are left out.
func (f *filler) others() bool {
	more := false
	for j := range f.m.jointID {
		for o, last := f.m.options(int32(j)); o < last; o++ {
			if !f.marked[o] && f.crowded(int32(j), o) {
				f.marked[o] = true
				more = true
			}
		}
	}
	return more
}

// crowded tells whether an option and what a contract that is let takes exceed a limit.
func (f *filler) crowded(j, o int32) bool {
	f.take(member{joint: j, option: o, sharing: math.Inf(1)})
	for _, r := range f.rows {
		if k := f.takenBy[r]; k >= 0 && f.takes[r]+f.taken[r] > float64(f.goal.limit[r])*(1+1e-9)+1e-3 && !f.counts(o, k) {
			return true
		}
	}
	return false
}

// counts tells whether an option counts in a contract year.
func (f *filler) counts(o, k int32) bool {
	return slices.ContainsFunc(f.m.rows.contracts[k].rows, func(r int32) bool { return f.m.inRow(o, r) > 0 })
}

// gather lists the options of a contract that are not marked, by year.
func (f *filler) gather(contract int) {
	var bridges []int32
	for k, c := range f.m.rows.contracts {
		f.members[k] = f.members[k][:0]
		if c.contract == contract {
			bridges = c.bridges
		}
	}
	begin := make([]int, len(f.members)) // of the bridge at hand
	for _, b := range bridges {
		for k := range begin {
			begin[k] = len(f.members[k])
		}
		for j := f.m.firstJoint[b]; j < f.m.firstJoint[b+1]; j++ {
			for o, last := f.m.options(j); o < last; o++ {
				if !f.marked[o] {
					f.enter(contract, j, o)
				}
			}
		}
		for k, from := range begin {
			of := f.members[k][from:]
			sharing := 0.0
			for i := range of {
				if i == 0 || of[i].joint != of[i-1].joint {
					sharing++
				}
			}
			for i := range of {
				of[i].sharing = sharing
			}
		}
	}
}

// enter lists option o in each year of a contract that it counts in.
func (f *filler) enter(contract int, j, o int32) {
	for _, c := range f.m.money(o) {
		if c.cents == 0 || !f.m.rows.inContract(c.slot) {
			continue
		}
		rows := f.m.rows.of(c.slot)
		k := f.of[int(rows[len(rows)-1])-f.m.rows.firstPart] // that of the contract comes last
		of := f.members[k]
		if f.m.rows.contracts[k].contract == contract && (len(of) == 0 || of[len(of)-1].option != o) {
			f.members[k] = append(of, member{joint: j, option: o})
		}
	}
}

// part marks the options of a contract year that cannot be in it because of one of its
// parts, and reports whether it marked any.
func (f *filler) part(members []member, part int32, least float64) bool {
	clear(f.needed)
	total := 0.0
	for i := 0; i < len(members); {
		n := i + 1
		for n < len(members) && members[n].joint == members[i].joint {
			n++
		}
		total += f.add(members[i:n], part)
		i = n
	}
	f.total = total
	for r := range f.needed {
		f.needed[r].sum(total)
	}
	more := false
	for _, o := range members {
		if !f.marked[o.option] && (total < least || f.exceeds(o, least-float64(f.m.inRow(o.option, part)))) {
			f.marked[o.option] = true
			more = true
		}
	}
	return more
}

// add takes in the options of a joint, and returns the most that it could be of a part.
func (f *filler) add(options []member, part int32) float64 {
	most, n := 0.0, 0
	f.seen = f.seen[:0]
	for _, o := range options {
		use := float64(f.m.inRow(o.option, part))
		if use == 0 || f.marked[o.option] {
			continue
		}
		n++
		most = max(most, use)
		f.take(o)
		for _, r := range f.rows {
			p := &f.joint[r]
			if p.options == 0 {
				f.seen = append(f.seen, r)
				p.each = math.Inf(1)
			}
			p.options++
			p.each = min(p.each, f.takes[r]/use)
		}
	}
	for _, r := range f.seen {
		if p := f.joint[r]; p.options == n {
			f.needed[r].joints = append(f.needed[r].joints, portion{most: most, each: p.each})
		}
		f.joint[r] = portion{}
	}
	return most
}

// take sets what an option takes from the strict limits, with its share of visits.
func (f *filler) take(o member) {
	for _, r := range f.rows {
		f.takes[r] = 0
	}
	f.rows = f.rows[:0]
	add := func(r int32, n float64) {
		if n == 0 || f.goal.limit[r] == NoLimit || !math.IsInf(f.goal.penalty[r], 1) {
			return
		}
		if f.takes[r] == 0 {
			f.rows = append(f.rows, r)
		}
		f.takes[r] += n
	}
	for _, c := range f.m.money(o.option) {
		for _, r := range f.m.rows.of(c.slot) {
			add(r, float64(c.cents))
		}
	}
	b := f.m.bridgeOf[o.joint]
	for y := f.m.years(o.option); y != 0; y &= y - 1 {
		year := bits.TrailingZeros32(y)
		_, cents, slot := f.m.visit(b, year)
		for _, r := range f.m.rows.of(slot) {
			add(r, float64(cents)/o.sharing)
		}
		if r := f.m.closure(b, year); r >= 0 {
			add(r, 1/o.sharing)
		}
	}
}

// exceeds tells whether an option and the rest of its contract take more than a limit.
func (f *filler) exceeds(o member, rest float64) bool {
	f.take(o)
	for _, r := range f.rows {
		if f.takes[r]+f.needed[r].least(rest) > float64(f.goal.limit[r])*(1+1e-9)+1e-3 {
			return true
		}
	}
	return false
}

// sum makes the filling ready: the joints together could be total.
func (f *filling) sum(total float64) {
	slices.SortFunc(f.joints, func(a, b portion) int { return cmp.Compare(a.each, b.each) })
	for _, p := range f.joints {
		total -= p.most
	}
	most, before := total, 0.0 // those that take nothing come first
	for _, p := range f.joints {
		f.most, f.before = append(f.most, most), append(f.before, before)
		most += p.most
		before += p.most * p.each
	}
}

// least is what filling so much of the contract takes at least.
func (f *filling) least(n float64) float64 {
	at, _ := slices.BinarySearch(f.most, n)
	if at == 0 {
		return 0
	}
	return f.before[at-1] + (n-f.most[at-1])*f.joints[at-1].each
}
