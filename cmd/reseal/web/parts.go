package web

import "sync"

// parts keeps what was derived last of a source, by key: a page asked for again
// before the source changes costs nothing. It may be used by many goroutines;
// what it gives is not to be changed.
type parts[S, K comparable, T any] struct {
	mu    sync.Mutex
	of    S
	byKey map[K]T
}

// partsKept is how many keys are kept.
const partsKept = 32

// get returns what derive makes of the source for the key. While one derives,
// others wait for it.
func (p *parts[S, K, T]) get(of S, key K, derive func() (T, error)) (T, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if part, ok := p.byKey[key]; ok && p.of == of {
		return part, nil
	}
	if p.of != of || len(p.byKey) >= partsKept {
		p.of, p.byKey = of, nil
	}
	part, err := derive()
	if err != nil {
		return part, err
	}
	if p.byKey == nil {
		p.byKey = map[K]T{}
	}
	p.byKey[key] = part
	return part, nil
}
