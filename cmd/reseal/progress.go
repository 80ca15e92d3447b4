package main

import (
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/term"
)

// progress reports how far something slow has come, on a terminal only and
// only after a second. The counted side is one atomic add.
type progress struct {
	done  atomic.Int64
	said  atomic.Pointer[string] // in place of the count, once there is nothing left to count
	total int64                  // 0: not known
	what  string
	out   io.Writer
	stop  chan struct{}
	wait  sync.WaitGroup
}

// startProgress begins to report on w. Call end when done.
func startProgress(w io.Writer, what string, total int64) *progress {
	p := &progress{what: what, total: total, out: w, stop: make(chan struct{})}
	f, ok := w.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return p
	}
	p.wait.Add(1)
	go p.report()
	return p
}

// add counts n more done.
func (p *progress) add(n int64) { p.done.Add(n) }

// say shows words and the time spent in place of the count; none: the count again.
func (p *progress) say(words string) { p.said.Store(&words) }

// end stops the report and clears its line.
func (p *progress) end() {
	close(p.stop)
	p.wait.Wait()
}

func (p *progress) report() {
	defer p.wait.Done()
	began := time.Now()
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	shown := false
	for {
		select {
		case <-p.stop:
			if shown {
				fmt.Fprint(p.out, "\r\x1b[K")
			}
			return
		case <-tick.C:
			spent := time.Since(began)
			if spent < time.Second {
				continue
			}
			shown = true
			fmt.Fprint(p.out, "\r\x1b[K"+p.line(spent))
		}
	}
}

func (p *progress) line(spent time.Duration) string {
	if words := p.said.Load(); words != nil && *words != "" {
		return fmt.Sprintf("%s, %s", *words, spent.Round(time.Second))
	}
	done := p.done.Load()
	rate := float64(done) / spent.Seconds()
	line := fmt.Sprintf("%s: %d", p.what, done)
	if p.total > 0 {
		line += fmt.Sprintf(" of %d", p.total)
	}
	line += fmt.Sprintf(", %.0f a second", rate)
	if p.total > done && rate > 0 {
		left := time.Duration(float64(p.total-done) / rate * float64(time.Second))
		line += fmt.Sprintf(", %s left", left.Round(time.Second))
	}
	return line
}
