package main

import (
	"encoding/json"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// layers in the order in which each may import those after it. Only the store
// may import migrations.
var layers = []string{"cmd", "forecast", "condition", "inventory", "geo"}

// TestImportsFlowOneWay holds the house rule: cmd, forecast, condition,
// inventory, geo, and never back.
func TestImportsFlowOneWay(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "reseal/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for d := json.NewDecoder(strings.NewReader(string(out))); d.More(); {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := d.Decode(&p); err != nil {
			t.Fatal(err)
		}
		seen++
		from := slices.Index(layers, layerOf(p.ImportPath))
		for _, imported := range p.Imports {
			if !strings.HasPrefix(imported, "reseal/") {
				continue
			}
			layer := layerOf(imported)
			if layer == "migrations" && p.ImportPath != "reseal/inventory/store" {
				t.Errorf("%s imports %s: only the store may", p.ImportPath, imported)
			}
			if to := slices.Index(layers, layer); to >= 0 && from >= 0 && to < from {
				t.Errorf("%s imports %s: against the flow", p.ImportPath, imported)
			}
		}
	}
	if seen < 10 {
		t.Errorf("go list shows %d packages; the check sees too little", seen)
	}
}

func layerOf(path string) string {
	parts := strings.Split(path, "/")
	if len(parts) < 2 {
		return ""
	}
	return parts[1]
}
