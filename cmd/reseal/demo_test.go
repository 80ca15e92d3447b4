package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestDemo runs the whole job on the invented network, as README's first
// command does.
func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	code, out, messages := reseal(t, "unused.gpkg", "demo", "--dir", dir)
	if code != exitDone {
		t.Fatalf("exit %d: %s", code, messages)
	}
	if strings.Count(out, "INVENTED") < 2 {
		t.Errorf("the answer does not say at both ends that it is invented:\n%s", out)
	}
	readme, err := os.ReadFile(filepath.Join(dir, "README.txt"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		info, err := f.Info()
		if err != nil || info.Size() == 0 {
			t.Errorf("%s is empty (%v)", f.Name(), err)
		}
		if f.Name() != "README.txt" && !strings.Contains(string(readme), f.Name()) {
			t.Errorf("README.txt does not tell what %s is", f.Name())
		}
	}
	db := filepath.Join(dir, "inventory.gpkg")
	if _, _, messages := reseal(t, db, "joint", "list", "--limit", "1"); !strings.Contains(messages, "INVENTED") {
		t.Errorf("a later command does not say that the data are invented: %q", messages)
	}
	if code, _, _ := reseal(t, db, "demo", "--dir", dir); code != exitFailed {
		t.Error("a second demo overwrote the first")
	}
	gdal(t, "ogrinfo", "-ro", "-al", "-so", db)
	gdal(t, "ogrinfo", "-ro", "-al", "-so", filepath.Join(dir, "joints.geojson"))
}
