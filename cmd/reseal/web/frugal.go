package web

import (
	"os"
	"runtime/debug"
	"sync"
)

// How much memory is taken while a plan is made: by how much the heap may grow
// between collections, and what the whole program shall keep to where it can. What
// a plan holds is mostly numbers, which a collection passes over quickly.
const (
	planningPercent  = 15
	planningBytes    = 200 << 20
	planningPerJoint = 4300 // bytes; the pages' own lists are in it
)

// frugal has plans of the whole network made one after the other, and collects
// garbage more often meanwhile: several at once would take several times the memory.
type frugal struct{ mu sync.Mutex }

// begin waits for its turn to plan for so many joints; call end.
func (f *frugal) begin(joints int) (end func()) {
	f.mu.Lock()
	if os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" { // somebody has decided
		return f.mu.Unlock
	}
	percent, limit := debug.SetGCPercent(planningPercent), debug.SetMemoryLimit(max(planningBytes, int64(joints)*planningPerJoint))
	return func() {
		debug.SetGCPercent(percent)
		debug.SetMemoryLimit(limit)
		debug.FreeOSMemory()
		f.mu.Unlock()
	}
}

// tidy gives back what the step before has left.
func (*frugal) tidy() { debug.FreeOSMemory() }
