package element_test

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/inventory/element"
)

const oregon = "../../testdata/open/2015OR_ElementData.xml.gz"

// counts are what testdata/element/counts.py counts.
type counts struct {
	Records, Structures, Joints, WithJoint, Unsummed int

	ByElement, Feet [7]int
	States          [7][4]int
}

func countOregon(t *testing.T) counts {
	t.Helper()
	var c counts
	structures, withJoint := map[string]bool{}, map[string]bool{}
	err := element.ForEach(context.Background(), open(t, oregon), func(r element.Record) error {
		c.Records++
		structures[r.State+r.StructureNumber] = true
		c.Unsummed += len(r.Problems)
		if element.IsJoint(r.Element) {
			c.Joints++
			withJoint[r.State+r.StructureNumber] = true
			k := r.Element - element.StripSeal
			c.ByElement[k]++
			c.Feet[k] += int(r.TotalQty)
			for i, q := range r.StateQty {
				c.States[k][i] += int(q)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	c.Structures, c.WithJoint = len(structures), len(withJoint)
	return c
}

// The counts were made by the providers of the data folder, apart from this
// package.
func TestOregonByKnownCounts(t *testing.T) {
	got := countOregon(t)
	want := counts{
		Records: 13419, Structures: 1740, Joints: 871, WithJoint: 752,
		ByElement: [7]int{68, 183, 107, 20, 23, 4, 466},
		Feet:      [7]int{9444, 24062, 14533, 1708, 1289, 201, 53962},
	}
	want.States = got.States // not among the known counts
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("counts (-want +got):\n%s", diff)
	}
}

func TestOregonByPython(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("python3 is needed")
		}
		t.Skip("no python3")
	}
	out, err := exec.Command(python, "../../testdata/element/counts.py", oregon).Output()
	if err != nil {
		t.Fatal(err)
	}
	var want counts
	if err := json.Unmarshal(out, &want); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, countOregon(t)); diff != "" {
		t.Errorf("counts (-python +got):\n%s", diff)
	}
}

func open(t *testing.T, name string) io.Reader {
	t.Helper()
	f, err := os.Open(name)
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
