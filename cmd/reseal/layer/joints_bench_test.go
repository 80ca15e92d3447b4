package layer

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"reseal/cmd/reseal/layer/layertest"
	"reseal/geo/geojson"
	"reseal/inventory/store"
)

// BenchmarkExportJoints writes the joints of an invented network as GeoJSON:
// with all fields, and with those of the table of joints alone. With
// RESEAL_LONG=1 it also takes a million, and GDAL's ogr2ogr beside it in the
// same run with the same fields. Processor time is given too, which other
// programs on the machine disturb less than the clock.
func BenchmarkExportJoints(b *testing.B) {
	sizes := []int{10_000, 100_000}
	long := os.Getenv("RESEAL_LONG") != ""
	if long {
		sizes = append(sizes, 1_000_000)
	}
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) { exportJoints(b, n, long) })
	}
}

// ownFields are fields that the table of joints has itself.
const ownFields = "tag,label,place,sequence,length_ft,movement,scope,origin,geometry_source,status"

func exportJoints(b *testing.B, n int, peer bool) {
	s := layertest.Network(b, n)
	for _, way := range []struct {
		name, fields, layer string
	}{{"all fields", "", "joint_condition"}, {"own fields", ownFields, "joints"}} {
		b.Run("reseal "+way.name, func(b *testing.B) {
			b.ReportAllocs()
			measure(b, n, syscall.RUSAGE_SELF, func(out string) { writeJoints(b, s, out, way.fields) })
		})
		ogr2ogr, err := exec.LookPath("ogr2ogr")
		if !peer || err != nil {
			continue
		}
		b.Run("ogr2ogr "+way.name, func(b *testing.B) {
			measure(b, n, syscall.RUSAGE_CHILDREN, func(out string) {
				args := []string{"-f", "GeoJSON", out, s.Path(), way.layer}
				if way.fields != "" {
					args = append(args, "-select", way.fields)
				}
				if msg, err := exec.CommandContext(b.Context(), ogr2ogr, args...).CombinedOutput(); err != nil {
					b.Fatalf("%v: %s", err, msg)
				}
			})
		})
	}
}

// measure runs write for the benchmark and reports joints a second by the
// clock and by the processor time of the program or its children.
func measure(b *testing.B, joints, who int, write func(out string)) {
	spent := func() float64 {
		var r syscall.Rusage
		if err := syscall.Getrusage(who, &r); err != nil {
			b.Fatal(err)
		}
		return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
	}
	out := filepath.Join(b.TempDir(), "joints.geojson")
	before := spent()
	for b.Loop() {
		if err := os.RemoveAll(out); err != nil {
			b.Fatal(err)
		}
		write(out)
	}
	done := float64(joints) * float64(b.N)
	b.ReportMetric(done/b.Elapsed().Seconds(), "joints/s")
	b.ReportMetric(done/(spent()-before), "joints/cpu-s")
}

func writeJoints(b *testing.B, s *store.Store, out, fields string) {
	l, q := jointLayer(), Query{}
	if fields != "" {
		q.Fields = strings.Split(fields, ",")
	}
	columns, err := l.Columns(q.Fields)
	if err != nil {
		b.Fatal(err)
	}
	f, err := os.Create(out)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	to := NewGeoJSON(f, columns, geojson.Options{})
	if err := errors.Join(l.Write(b.Context(), s, q, to), to.Close()); err != nil {
		b.Fatal(err)
	}
}
