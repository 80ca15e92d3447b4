package condition_test

import (
	"compress/gzip"
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"

	"reseal/condition"
	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

var (
	ctx   = context.Background()
	today = inventory.Date{Year: 2026, Month: 11, Day: 25}
)

func ptr[T any](v T) *T { return &v }

func create(t testing.TB) *store.Store {
	t.Helper()
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "network.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func update(t testing.TB, s *store.Store, fn func(tx *store.Tx) error) {
	t.Helper()
	if err := s.Update(ctx, "ana", func(_ context.Context, tx *store.Tx) error { return fn(tx) }); err != nil {
		t.Fatal(err)
	}
}

// addJoint puts a bridge with one joint of 40 ft on record.
func addJoint(t testing.TB, s *store.Store, j inventory.Joint, b inventory.Bridge) *inventory.Joint {
	t.Helper()
	b.State = "53"
	if b.StructureNumber == "" {
		b.StructureNumber = "0001"
	}
	j.LengthFt = ptr(40.0)
	update(t, s, func(tx *store.Tx) error {
		if err := inventory.AddBridge(ctx, tx, &b); err != nil {
			return err
		}
		j.BridgeID = b.ID
		return inventory.AddJoint(ctx, tx, &j, inventory.Seal{Kind: "strip seal"})
	})
	return &j
}

func place(lon, lat float64) geo.Geometry {
	return geo.Geometry{Geometry: orb.Point{lon, lat}}
}

func line(lon, lat float64) geo.Geometry {
	return geo.Geometry{Geometry: orb.LineString{{lon, lat}, {lon, lat + 0.0001}}}
}

// open reads one of the open data files.
func open(t testing.TB, name string) io.Reader {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "open", name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// log puts feet in the four states on record and returns what was odd.
func log(s *store.Store, j *inventory.Joint, on string, ft [4]float64, accept bool) (odd []string, err error) {
	day, err := inventory.ParseDate(on)
	if err != nil {
		return nil, err
	}
	err = s.Update(ctx, "ben", func(ctx context.Context, tx *store.Tx) error {
		ts, err := inventory.Stretches(ctx, tx, j.ID)
		if err != nil {
			return err
		}
		in := &condition.Inspection{InspectedOn: day, Feet: []condition.Feet{
			{StretchID: ts[0].ID, CS1Ft: ft[0], CS2Ft: ft[1], CS3Ft: ft[2], CS4Ft: ft[3]},
		}}
		odd, err = condition.Log(ctx, tx, j, in, accept, today)
		return err
	})
	return odd, err
}
