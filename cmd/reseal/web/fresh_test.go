package web

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// TestForgottenWhileAwaited: who waits for a value that is forgotten as soon as it
// is there gets one all the same. Without that a few of these many get none.
func TestForgottenWhileAwaited(t *testing.T) {
	t.Parallel()
	s, _ := serveSample(t)
	for range 2000 {
		began, proceed := make(chan struct{}, 2), make(chan struct{})
		f := fresh[*int]{make: func(context.Context) (*int, error) {
			began <- struct{}{}
			<-proceed
			return new(int), nil
		}}
		answer := make(chan *int)
		go func() {
			v, _, err := f.get(t.Context(), s)
			if err != nil {
				t.Error(err)
			}
			answer <- v
		}()
		<-began
		f.mu.Lock()
		making := f.making
		f.mu.Unlock()
		go func() {
			<-making
			f.forget()
		}()
		close(proceed)
		if <-answer == nil {
			t.Fatal("got no value and no error")
		}
	}
}

// TestAFileIsOfNow: who downloads a file right after a change gets what holds
// now, where a page shows what was before.
func TestAFileIsOfNow(t *testing.T) {
	t.Parallel()
	s, _ := serveSample(t)
	proceed := make(chan struct{})
	made := 0
	f := freshBy[int, int]{make: func(context.Context, int) (int, error) {
		if made++; made > 1 {
			<-proceed
		}
		return made, nil
	}}
	if v, err := f.current(t.Context(), s, 0); v != 1 || err != nil {
		t.Fatalf("got %d, %v, want 1", v, err)
	}
	err := s.Store.Update(t.Context(), "Test Person", func(ctx context.Context, tx *store.Tx) error {
		return inventory.EditJoint(ctx, tx, "J000007", inventory.Edit{Values: map[string]string{"notes": "seen"}})
	})
	if err != nil {
		t.Fatal(err)
	}
	file := make(chan int)
	go func() {
		v, err := f.current(t.Context(), s, 0)
		if err != nil {
			t.Error(err)
		}
		file <- v
	}()
	if v, at, err := f.get(t.Context(), s, 0); v != 1 || at.IsZero() || err != nil {
		t.Errorf("the page has %d of %v, %v, want 1 of before", v, at, err)
	}
	close(proceed)
	if v := <-file; v != 2 {
		t.Errorf("the file has %d, want 2", v)
	}
}

// TestPageWaitsWhileItIsMade: a page first asked for while its list is worked out
// is no failure and comes again by itself; a program is told when to ask again.
func TestPageWaitsWhileItIsMade(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	proceed := make(chan struct{})
	rank := s.workLists.make
	s.workLists.make = func(ctx context.Context, year int) (*forecast.WorkList, error) {
		<-proceed
		return rank(ctx, year)
	}
	status, h, body := get(t, address+"/worklist")
	if status != http.StatusAccepted || h.Get("Refresh") == "" || h.Get("Retry-After") != "" || !strings.Contains(body, "fills itself") {
		t.Errorf("the page: got %d, %v, %.300s", status, h, body)
	}
	status, h, body = get(t, address+"/ogc/collections/worklist/items")
	if status != http.StatusServiceUnavailable || h.Get("Retry-After") == "" {
		t.Errorf("for a GIS: got %d, %v, %.300s", status, h, body)
	}
	close(proceed)
	waitForWorkList(t, s)
	if status, _, body := get(t, address+"/worklist"); status != http.StatusOK || !strings.Contains(body, "ranked") {
		t.Errorf("once it is made: got %d %.300s", status, body)
	}
}
