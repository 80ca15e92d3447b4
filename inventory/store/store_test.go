package store_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"reseal/inventory/store"
)

func create(t *testing.T) (*store.Store, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "network.gpkg")
	s, err := store.Open(context.Background(), path, store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s, path
}

// need skips a test whose tool is missing, and fails it in CI.
func need(t *testing.T, tool string) {
	t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is not installed", tool)
		}
		t.Skipf("%s is not installed", tool)
	}
}

func TestCreateIsGeoPackage(t *testing.T) {
	need(t, "ogrinfo")
	s, path := create(t)
	s.Close()
	out, err := exec.Command("ogrinfo", "-al", "-so", path).CombinedOutput()
	if err != nil || strings.Contains(string(out), "Warning") || strings.Contains(string(out), "ERROR") {
		t.Fatalf("ogrinfo: %v\n%s", err, out)
	}
}
