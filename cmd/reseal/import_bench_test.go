package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"reseal/inventory/element/elementtest"
	"reseal/inventory/nbi/nbitest"
)

// importSizes are rows of the generated files; the large ones take minutes.
func importSizes(large int) []int {
	sizes := []int{1_000, 10_000}
	if os.Getenv("RESEAL_LONG") != "" {
		sizes = append(sizes, 100_000, large)
	}
	return sizes
}

// BenchmarkImport runs the built program on generated files, each beside
// sqlite3's own import of the same lines as plain text, and reports rows a
// second and the peak memory of the process.
func BenchmarkImport(b *testing.B) {
	dir := b.TempDir()
	binary := filepath.Join(dir, "reseal")
	if out, err := exec.Command("go", "build", "-o", binary, ".").CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	for _, kind := range []struct {
		name  string
		args  []string
		large int
		write func(io.Writer, int) error
	}{
		{"bridges", []string{"import", "bridges"}, 600_000, func(w io.Writer, n int) error { return nbitest.Write(w, "53", n, 1) }},
		{"elements", []string{"import", "elements", "--year", "2020"}, 1_000_000, func(w io.Writer, n int) error { return elementtest.Write(w, "53", n, 1) }},
	} {
		for _, n := range importSizes(kind.large) {
			file := filepath.Join(dir, fmt.Sprintf("%s-%d", kind.name, n))
			f, err := os.Create(file)
			if err != nil {
				b.Fatal(err)
			}
			if err := kind.write(f, n); err != nil {
				b.Fatal(err)
			}
			f.Close()
			b.Run(fmt.Sprintf("%s/%d/reseal", kind.name, n), func(b *testing.B) {
				timed(b, n, func(i int) *exec.Cmd {
					db := filepath.Join(dir, fmt.Sprintf("%s-%d-%d.gpkg", kind.name, n, i))
					if out, err := exec.Command(binary, "--db", db, "init").CombinedOutput(); err != nil {
						b.Fatalf("init: %v\n%s", err, out)
					}
					args := append([]string{"--db", db}, kind.args...)
					return exec.Command(binary, append(args, "--skip-bad", filepath.Join(dir, "bad.csv"), file)...)
				})
			})
			b.Run(fmt.Sprintf("%s/%d/sqlite3", kind.name, n), func(b *testing.B) {
				if _, err := exec.LookPath("sqlite3"); err != nil {
					b.Skip("sqlite3 is not installed")
				}
				timed(b, n, func(i int) *exec.Cmd {
					db := filepath.Join(dir, fmt.Sprintf("%s-%d-%d.db", kind.name, n, i))
					return exec.Command("sqlite3", db, ".mode csv", ".separator \x01", ".import "+file+" lines")
				})
			})
			os.Remove(file)
		}
	}
}

// timed runs one process an iteration.
func timed(b *testing.B, rows int, command func(i int) *exec.Cmd) {
	var spent time.Duration
	var peak int64
	for i := range b.N {
		b.StopTimer()
		cmd := command(i)
		b.StartTimer()
		began := time.Now()
		if err := cmd.Run(); err != nil {
			if exit, ok := err.(*exec.ExitError); !ok || exit.ExitCode() != exitRejected {
				b.Fatalf("%s: %v", cmd.Path, err)
			}
		}
		spent += time.Since(began)
		if usage, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
			peak = max(peak, usage.Maxrss)
		}
	}
	b.ReportMetric(float64(rows)*float64(b.N)/spent.Seconds(), "rows/s")
	b.ReportMetric(float64(peak)/1024, "peak-MB")
}
