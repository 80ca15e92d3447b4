package condition

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestParseDefects(t *testing.T) {
	ft := func(v float64) *float64 { return &v }
	for _, tt := range []struct {
		name, text string
		want       []Defect
		wantErr    string
	}{
		{name: "two, one with feet", text: "2330:3:0-12; 2350:2", want: []Defect{{Number: 2330, State: 3, FromFt: ft(0), ToFt: ft(12)}, {Number: 2350, State: 2}}},
		{name: "spaces and CS", text: " 2310 : cs4 : 1.5 - 2 ;", want: []Defect{{Number: 2310, State: 4, FromFt: ft(1.5), ToFt: ft(2)}}},
		{name: "nothing", text: " ; "},
		{name: "no state", text: "2330", wantErr: `cannot be read at "2330"`},
		{name: "feet the wrong way", text: "2330:3:12-2", wantErr: `has no feet FROM-TO at "2330:3:12-2"`},
		{name: "not a number", text: "2330:3:NaN-4", wantErr: `has no feet FROM-TO at "2330:3:NaN-4"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := parseDefects(tt.text)
			if tt.wantErr != "" {
				if err == nil || err.Error() != tt.wantErr {
					t.Errorf("got error %v, want %q", err, tt.wantErr)
				}
				return
			}
			if diff := cmp.Diff(tt.want, got); diff != "" || err != nil {
				t.Errorf("error %v (-want +got):\n%s", err, diff)
			}
		})
	}
}

// FuzzParseDefects holds that what is read has states and feet in order, and
// that as many are read as are written.
func FuzzParseDefects(f *testing.F) {
	for _, s := range []string{"2330:3:0-12; 2350:2", "2310:CS4", "::", "1:2:3-4-5", ";;", "2330:3:1e9-2e9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		defects, err := parseDefects(text)
		if err != nil {
			return
		}
		if items := strings.Count(text, ";") + 1; len(defects) > items {
			t.Errorf("%q: got %d defects of %d items", text, len(defects), items)
		}
		for _, d := range defects {
			if (d.FromFt == nil) != (d.ToFt == nil) || d.FromFt != nil && !(*d.FromFt >= 0 && *d.ToFt >= *d.FromFt && *d.ToFt < 1e5) {
				t.Errorf("%q: got feet %v to %v", text, d.FromFt, d.ToFt)
			}
		}
	})
}
