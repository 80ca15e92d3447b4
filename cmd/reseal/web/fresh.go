package web

import (
	"context"
	"sync"
	"time"
)

// patience is how long a page waits for a value to be made anew before it
// shows the one from before the last change.
const patience = 2 * time.Second

// fresh keeps one value that is made from the whole inventory, such as the
// ranking, and makes it anew once the inventory or the day has changed. While
// that takes long, the value from before is shown, and said to be.
// It may be used by many goroutines.
type fresh[T any] struct {
	make func(context.Context) (T, error)

	mu     sync.Mutex
	now    made[T]
	making chan struct{} // closed when the making that goes on has ended; nil: none
	ended  time.Time     // when the last making did, by the machine's clock
	took   time.Duration // that making
}

// made is a value, and of when.
type made[T any] struct {
	value   T
	err     error
	version int64
	day     string
	at      time.Time // zero: never made
}

// get returns the value. With at not zero it is of that moment, and a newer
// one is being made.
func (f *fresh[T]) get(ctx context.Context, s *Server) (value T, at time.Time, err error) {
	version, err := s.watch.Version(ctx)
	if err != nil {
		return value, at, err
	}
	day := s.today().String()
	f.mu.Lock()
	if !f.now.at.IsZero() && f.now.version == version && f.now.day == day && f.now.err == nil {
		defer f.mu.Unlock()
		return f.now.value, at, nil
	}
	if f.making == nil {
		f.making = make(chan struct{})
		go f.renew(s, version, day)
	}
	making, before := f.making, f.now
	f.mu.Unlock()

	var late <-chan time.Time
	if !before.at.IsZero() && before.err == nil {
		t := time.NewTimer(patience)
		defer t.Stop()
		late = t.C
	}
	select {
	case <-making:
		f.mu.Lock()
		now := f.now
		f.mu.Unlock()
		if now.at.IsZero() { // and was forgotten meanwhile
			return f.get(ctx, s)
		}
		return now.value, at, now.err
	case <-late:
		return before.value, before.at, nil
	case <-ctx.Done():
		return value, at, ctx.Err()
	}
}

// latest returns the value that there is without waiting; ok is false where
// there is none yet. With at not zero it is of that moment, and a newer one is
// to be made.
// Making takes at most a quarter of the time: what changed meanwhile waits.
func (f *fresh[T]) latest(ctx context.Context, s *Server) (value T, at time.Time, ok bool, err error) {
	version, err := s.watch.Version(ctx)
	if err != nil {
		return value, at, false, err
	}
	day := s.today().String()
	f.mu.Lock()
	defer f.mu.Unlock()
	old := f.now.at.IsZero() || f.now.version != version || f.now.day != day || f.now.err != nil
	if old && f.making == nil && time.Since(f.ended) >= 3*f.took {
		f.making = make(chan struct{})
		go f.renew(s, version, day)
	}
	if old {
		at = f.now.at
	}
	return f.now.value, at, !f.now.at.IsZero() && f.now.err == nil, f.now.err
}

// forget lets go of the value.
func (f *fresh[T]) forget() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.now = made[T]{}
}

// renew makes the value; it goes on when the request that asked has ended.
func (f *fresh[T]) renew(s *Server, version int64, day string) {
	began := time.Now()
	value, err := f.make(s.ctx)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.ended = time.Now()
	f.took = f.ended.Sub(began)
	f.now = made[T]{value, err, version, day, s.Store.Now()}
	close(f.making)
	f.making = nil
}
