package inventory_test

import (
	"strings"
	"testing"

	"reseal/inventory"
	"reseal/inventory/store"
)

const nbiHeader = "STATE_CODE_001,STRUCTURE_NUMBER_008,RECORD_TYPE_005A,YEAR_BUILT_027\n"

func TestBridgeTwiceInOneFile(t *testing.T) {
	s := create(t)
	file := nbiHeader + "53,A,1,1964\n53,B,1,1970\n53,A,1,1971\n"
	read := func(tx *store.Tx, opt inventory.IntakeOptions) (inventory.Intake, error) {
		return inventory.ImportNBI(ctx, tx, strings.NewReader(file), "WA.txt", opt)
	}
	update(t, s, func(tx *store.Tx) error {
		var bad strings.Builder
		in, err := read(tx, inventory.IntakeOptions{Bad: &bad})
		if err != nil || in.Added != 2 || in.Rejected != 1 || !strings.Contains(bad.String(), "line 2 is about the same bridge (53/A)") {
			t.Errorf("got %+v, %v, bad rows %q; want 2 added and the second row of bridge A rejected", in, err, bad.String())
		}
		if _, err := read(tx, inventory.IntakeOptions{}); err == nil || !strings.Contains(err.Error(), "WA.txt line 4") {
			t.Errorf("got %v, want line 4 refused", err)
		}
		return nil
	})
}
