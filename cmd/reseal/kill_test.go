package main

import (
	"context"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"reseal/inventory/nbi/nbitest"
	"reseal/inventory/store"
)

// TestKilledImport kills the program with SIGKILL at random moments of an
// import: each time the file must open, be sound, and hold all or nothing.
func TestKilledImport(t *testing.T) {
	const rows = 3000
	kills := 20
	if os.Getenv("CI") == "true" {
		kills = 100
	}
	if testing.Short() {
		kills = 3
	}
	dir := t.TempDir()
	binary := filepath.Join(dir, "reseal")
	if out, err := exec.Command("go", "build", "-o", binary, ".").CombinedOutput(); err != nil {
		t.Fatalf("build: %v\n%s", err, out)
	}
	bridges := filepath.Join(dir, "bridges.txt")
	f, err := os.Create(bridges)
	if err != nil {
		t.Fatal(err)
	}
	if err := nbitest.Write(f, "53", rows, 1); err != nil {
		t.Fatal(err)
	}
	f.Close()

	run := func(db string) *exec.Cmd {
		return exec.Command(binary, "--db", db, "import", "bridges", "--skip-bad", filepath.Join(dir, "bad.csv"), bridges)
	}
	count := func(db string) (n int) {
		s, err := store.Open(context.Background(), db, store.Options{})
		if err != nil {
			t.Fatalf("after a kill: %v", err)
		}
		defer s.Close()
		var sound string
		if err := s.Read().NewRaw("PRAGMA integrity_check").Scan(context.Background(), &sound); err != nil || sound != "ok" {
			t.Fatalf("after a kill: integrity %s, %v", sound, err)
		}
		if err := s.Read().NewRaw("SELECT count(*) FROM bridges").Scan(context.Background(), &n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	fresh := func(name string) string {
		db := filepath.Join(dir, name+".gpkg")
		if out, err := exec.Command(binary, "--db", db, "init").CombinedOutput(); err != nil {
			t.Fatalf("init: %v\n%s", err, out)
		}
		return db
	}
	whole := fresh("whole")
	began := time.Now()
	_ = run(whole).Run() // exit 3: the generated file has bad rows
	full, took := count(whole), time.Since(began)
	if full == 0 {
		t.Fatal("the import took nothing in")
	}

	random := rand.New(rand.NewPCG(1, 2))
	none, all := 0, 0
	for i := 0; i < kills || none == 0 && i < 10*kills; i++ { // a busy machine tells wrong how long an import takes
		db := fresh("killed")
		cmd := run(db)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(time.Duration(random.Float64()*1.1*float64(took)), func() { cmd.Process.Kill() })
		_ = cmd.Wait()
		switch n := count(db); n {
		case 0:
			none++
		case full:
			all++
		default:
			t.Fatalf("killed: %d of %d bridges are on record; want all or none", n, full)
		}
		for _, suffix := range []string{"", "-wal", "-shm"} {
			os.Remove(db + suffix)
		}
	}
	t.Logf("%d kills within %s: %d times nothing, %d times all %d bridges", kills, took.Round(time.Millisecond), none, all, full)
	if none == 0 {
		t.Error("no kill fell into the import: the test proves nothing")
	}
}
