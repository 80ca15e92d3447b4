package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// invented writes a table of n rows, three joints a bridge, to be imported as
// kind. All of it is invented.
func invented(kind string, n int) string {
	var b strings.Builder
	switch kind {
	case "bridges":
		b.WriteString("state,structure_number,lat,lon,route,milepost,year_built,length_ft,curb_width_ft,skew_deg\n")
		for i := range (n + 2) / 3 {
			fmt.Fprintf(&b, "41,B%06d,%.5f,%.5f,I 5,%.2f,%d,%d,%d,%d\n", i, 44+float64(i)*1e-5, -123-float64(i)*1e-5, float64(i)/100, 1950+i%60, 100+i%300, 30+i%20, i%40)
		}
	case "joints":
		b.WriteString("bridge,label,place,sequence,movement,length_ft,kind,size,min_open_in,max_open_in,installed,installed_gap_in,installed_deck_temp_f,cost_usd\n")
		for k := range n {
			fmt.Fprintf(&b, "41/B%06d,%c,pier,%d,expansion,%d,strip seal,4 in,0.5,4,%d-05-%02d,2.25,%d,%d\n",
				k/3, 'A'+k%3, k%3+1, 36+k%20, 2010+k%12, 1+k%28, 50+k%40, 5000+k%100)
		}
	case "inspections":
		b.WriteString("bridge,label,date,inspector,seen_from,cs1_ft,cs2_ft,cs3_ft,cs4_ft,defects,gap_in,position,deck_temp_f\n")
		for k := range n {
			fmt.Fprintf(&b, "41/B%06d,%c,2025-0%d-%02d,inspector %d,top,%d,4,2,0,2330:3:0-2,2.%d,left curb,%d\n",
				k/3, 'A'+k%3, 1+k%9, 1+k%28, k%7, 36+k%20-6, k%10, 40+k%50)
		}
	}
	return b.String()
}

// BenchmarkImportSheets takes in joints and inspections, for the first time and
// again. An inventory with the bridges, and joints for the inspections, stands
// before the clock starts.
func BenchmarkImportSheets(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000} {
		for _, kind := range []string{"joints", "inspections"} {
			text := invented(kind, n)
			for _, again := range []bool{false, true} {
				name := fmt.Sprintf("%s/%d", kind, n)
				if again {
					name += "/again"
				}
				b.Run(name, func(b *testing.B) {
					b.ReportAllocs()
					for range b.N {
						b.StopTimer()
						db := filepath.Join(b.TempDir(), "bench.gpkg")
						take := func(kind, text string) {
							args := []string{"reseal", "--db", db, "import", kind, "-"}
							var errText bytes.Buffer
							now := func() time.Time { return time.Date(2025, 11, 20, 9, 0, 0, 0, time.UTC) }
							if code := run(context.Background(), args, world{in: strings.NewReader(text), out: io.Discard, err: &errText, now: now}); code != 0 {
								b.Fatalf("import %s: exit %d: %s", kind, code, errText.String())
							}
						}
						if code := run(context.Background(), []string{"reseal", "--db", db, "init"}, world{out: io.Discard, err: io.Discard, now: time.Now}); code != 0 {
							b.Fatalf("init: exit %d", code)
						}
						take("bridges", invented("bridges", n))
						if kind == "inspections" {
							take("joints", invented("joints", n))
						}
						if again {
							take(kind, text)
						}
						b.StartTimer()
						take(kind, text)
					}
					b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "rows/s")
				})
			}
		}
	}
}
