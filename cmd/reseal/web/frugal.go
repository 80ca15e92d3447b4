package web

import (
	"os"
	"runtime/debug"
	"sync"
)

// planningPercent is by how much the heap may grow between collections while a
// plan is made. What a plan holds is mostly numbers, which are quick to pass over.
const planningPercent = 15

// frugal has plans of the whole network made one after the other, and collects
// garbage more often meanwhile: several at once would take several times the memory.
type frugal struct{ mu sync.Mutex }

// begin waits for its turn; call end.
func (f *frugal) begin() (end func()) {
	f.mu.Lock()
	if os.Getenv("GOGC") != "" { // somebody has decided
		return f.mu.Unlock
	}
	before := debug.SetGCPercent(planningPercent)
	return func() {
		debug.SetGCPercent(before)
		debug.FreeOSMemory()
		f.mu.Unlock()
	}
}

// tidy gives back what the step before has left.
func (*frugal) tidy() { debug.FreeOSMemory() }
