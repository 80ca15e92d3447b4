package web

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"reseal/inventory/store"
)

// keysKept is how many keys a freshBy keeps the values of.
const keysKept = 4

// freshBy keeps a fresh value for each of the keys asked for last. It may be
// used by many goroutines.
type freshBy[K comparable, T any] struct {
	make func(context.Context, K) (T, error)

	mu   sync.Mutex
	keys []K // asked for last first
	of   []*fresh[T]
}

// errMaking is the cause where what a page shows is being made: it comes by itself.
var errMaking = errors.New("being made")

// beingMade asks to wait for what takes long to make, rather than hand out what is
// no longer true; the cause is errMaking where a page may wait in its place.
func beingMade(cause error) error {
	return &store.Error{
		Kind: store.ErrUnavailable, Err: cause, Text: "this is being worked out from the whole network",
		Hint: "wait a moment and ask again",
	}
}

// firstWait is how long a page waits for a value that was never made before.
const firstWait = 5 * time.Second

// get returns the key's value as fresh does. A value never made before that
// takes long is an error that says to try again; it is being made meanwhile.
func (f *freshBy[K, T]) get(ctx context.Context, s *Server, key K) (T, time.Time, error) {
	short, stop := context.WithTimeout(ctx, firstWait)
	defer stop()
	value, at, err := f.at(key).get(short, s)
	if errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil {
		err = beingMade(errMaking)
	}
	return value, at, err
}

// fileWait is how long a file to be kept is waited for: a browser that is told
// to ask again for a file only says that it failed.
const fileWait = time.Minute

// current returns the key's value as it is now, and waits while it is made.
func (f *freshBy[K, T]) current(ctx context.Context, s *Server, key K) (T, error) {
	long, stop := context.WithTimeout(ctx, fileWait)
	defer stop()
	for {
		value, at, err := f.at(key).get(long, s)
		if errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil {
			err = beingMade(nil)
		}
		if err != nil || at.IsZero() {
			return value, err
		}
	}
}

func (f *freshBy[K, T]) at(key K) *fresh[T] {
	f.mu.Lock()
	defer f.mu.Unlock()
	i := slices.Index(f.keys, key)
	var one *fresh[T]
	if i >= 0 {
		one = f.of[i]
		f.keys, f.of = slices.Delete(f.keys, i, i+1), slices.Delete(f.of, i, i+1)
	} else {
		one = &fresh[T]{make: func(ctx context.Context) (T, error) { return f.make(ctx, key) }}
	}
	f.keys, f.of = slices.Insert(f.keys, 0, key), slices.Insert(f.of, 0, one)
	if n := min(len(f.keys), keysKept); n < len(f.keys) {
		clear(f.of[n:])
		f.keys, f.of = f.keys[:n], f.of[:n]
	}
	return one
}
