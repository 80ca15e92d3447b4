package web

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"reseal/condition"
	"reseal/forecast"
	"reseal/inventory"
	"reseal/inventory/store"
)

// gis runs a program of GDAL and returns what it says.
func gis(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(name + " is not installed")
		}
		t.Skip(name + " is not installed")
	}
	out, err := exec.CommandContext(t.Context(), path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// countOf is what the inventory has of each collection.
func countOf(t *testing.T, s *Server) map[string]int {
	t.Helper()
	want := map[string]int{}
	for name, query := range map[string]string{
		"bridges": "SELECT count(*) FROM bridges WHERE status = 'in service'",
		"joints":  "SELECT count(*) FROM joints WHERE status = 'in service'",
	} {
		var n int
		if err := s.Store.Read().NewRaw(query).Scan(t.Context(), &n); err != nil {
			t.Fatal(err)
		}
		want[name] = n
	}
	due, err := condition.DueBy(t.Context(), s.Store.Read(), inventory.Filter{}, s.today(), condition.DueRules{})
	if err != nil {
		t.Fatal(err)
	}
	list := waitForWorkList(t, s)
	want["due"], want["worklist"] = len(due), len(list.Urgent)+len(list.Ranked)
	return want
}

// waitForWorkList waits for the list, which a slow machine may take longer to
// make than an answer waits.
func waitForWorkList(t testing.TB, s *Server) *forecast.WorkList {
	t.Helper()
	q, err := s.workListAsked(t.Context(), url.Values{})
	if err != nil {
		t.Fatal(err)
	}
	for old := true; old; { // until it is of now
		_, at, err := s.workLists.at(q.Year).get(t.Context(), s)
		if err != nil {
			t.Fatal(err)
		}
		old = !at.IsZero()
	}
	list, err := s.nextWorkList(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestGISReadsEachCollection: GDAL's OAPIF driver reads all features of each
// collection, as many as the inventory has.
func TestGISReadsEachCollection(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	for name, want := range countOf(t, s) {
		t.Run(name, func(t *testing.T) {
			said := gis(t, "ogrinfo", "-ro", "-al", "-q", "-oo", "PAGE_SIZE=500", "OAPIF:"+address+"/ogc", name)
			if got := strings.Count(said, "OGRFeature("); got != want || got == 0 {
				t.Errorf("GDAL read %d features, the inventory has %d\n%.2000s", got, want, said)
			}
			if strings.Contains(said, "Warning") || strings.Contains(said, "ERROR") {
				t.Errorf("GDAL warns: %.2000s", said)
			}
			summary := gis(t, "ogrinfo", "-ro", "-so", "OAPIF:"+address+"/ogc", name)
			if !strings.Contains(summary, fmt.Sprintf("Feature Count: %d", want)) {
				t.Errorf("GDAL counts otherwise than %d:\n%s", want, summary)
			}
		})
	}
}

// TestGISSelectsByBox: ogr2ogr with a box gets the joints that SQL does.
func TestGISSelectsByBox(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	a, _, err := s.theNetwork(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	middle := a.Bound.Center()
	box := []float64{a.Bound.Min[0] + 0.3, middle[1] - 0.2, middle[0] + 0.2, middle[1] + 0.5}
	out := filepath.Join(t.TempDir(), "joints.csv")
	gis(t, "ogr2ogr", "-f", "CSV", "-select", "tag", "-spat", fmt.Sprint(box[0]), fmt.Sprint(box[1]), fmt.Sprint(box[2]), fmt.Sprint(box[3]),
		out, "OAPIF:"+address+"/ogc", "joints")
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1 // GDAL ends a row of one field with a comma
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var got, want []string
	for _, row := range rows[1:] {
		got = append(got, row[0])
	}
	err = s.Store.Read().NewRaw(`SELECT j.tag FROM joints j JOIN rtree_joints_geom r ON r.id = j.id
		WHERE j.status = 'in service' AND r.minx <= ? AND r.maxx >= ? AND r.miny <= ? AND r.maxy >= ?`, box[2], box[0], box[3], box[1]).Scan(t.Context(), &want)
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(got)
	slices.Sort(want)
	if diff := cmp.Diff(want, got); diff != "" || len(got) < 20 || len(got) == countOf(t, s)["joints"] {
		t.Errorf("%d joints (-SQL +GDAL): %s", len(got), diff)
	}
}

// page is a page of features.
type featurePage struct {
	Type     string
	Features []struct {
		Type       string
		ID         int64
		Geometry   *struct{ Type string }
		Properties map[string]any
	}
	Links          []struct{ Href, Rel, Type string }
	TimeStamp      string
	NumberMatched  *int
	NumberReturned *int
}

func (p *featurePage) link(rel string) string {
	for _, l := range p.Links {
		if l.Rel == rel {
			return l.Href
		}
	}
	return ""
}

func features(t *testing.T, address string) *featurePage {
	t.Helper()
	status, h, body := get(t, address)
	var p featurePage
	if err := json.Unmarshal([]byte(body), &p); err != nil || status != 200 || h.Get("Content-Type") != "application/geo+json" {
		t.Fatalf("%s: %d %s %v: %.300s", address, status, h.Get("Content-Type"), err, body)
	}
	return &p
}

// TestFeaturePages: the next links lead through all features, each once
// (OGC 17-069r4, 7.15.2, 7.15.6 to 7.15.8).
func TestFeaturePages(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	for name, want := range countOf(t, s) {
		for _, filter := range []string{"", "&bbox=-180,-90,180,90"} {
			t.Run(name+filter, func(t *testing.T) {
				seen := map[int64]bool{}
				next := address + "/ogc/collections/" + name + "/items?limit=97" + filter
				for next != "" {
					p := features(t, next)
					if len(p.Features) > 97 || p.NumberReturned == nil || *p.NumberReturned != len(p.Features) || p.link("self") != next {
						t.Fatalf("%s: %d features, said to be %v; self is %s", next, len(p.Features), p.NumberReturned, p.link("self"))
					}
					if p.NumberMatched != nil && *p.NumberMatched != want {
						t.Errorf("%s: numberMatched %d, want %d", next, *p.NumberMatched, want)
					}
					for _, f := range p.Features {
						if seen[f.ID] || f.ID == 0 || f.Type != "Feature" {
							t.Fatalf("feature %d comes again", f.ID)
						}
						seen[f.ID] = true
					}
					next = p.link("next")
				}
				if len(seen) != want {
					t.Errorf("got %d features, want %d", len(seen), want)
				}
			})
		}
	}
}

// TestFeatureFilters: property filters, times and boxes choose what a look at
// all features does (7.15.3 to 7.15.5).
func TestFeatureFilters(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	items := address + "/ogc/collections/joints/items?limit=10000"
	all := features(t, items).Features
	if len(all) != countOf(t, s)["joints"] {
		t.Fatalf("got %d joints", len(all))
	}
	text := func(v any) string { return fmt.Sprint(v) }
	for _, c := range []struct {
		name, query string
		wanted      func(p map[string]any, placed bool) bool
	}{
		{"district", "district=" + url.QueryEscape(text(all[0].Properties["district"])), func(p map[string]any, _ bool) bool { return p["district"] == all[0].Properties["district"] }},
		{"two at once", "district=" + url.QueryEscape(text(all[0].Properties["district"])) + "&worst_state=3", func(p map[string]any, _ bool) bool {
			return p["district"] == all[0].Properties["district"] && p["worst_state"] == 3.0
		}},
		{"place", "place=abutment", func(p map[string]any, _ bool) bool { return p["place"] == "abutment" }},
		{"a number", "length_ft=" + text(all[5].Properties["length_ft"]), func(p map[string]any, _ bool) bool { return p["length_ft"] == all[5].Properties["length_ft"] }},
		{"a day", "inspected_on=" + text(all[0].Properties["inspected_on"]), func(p map[string]any, _ bool) bool { return p["inspected_on"] == all[0].Properties["inspected_on"] }},
		{"since", "datetime=2025-01-01T00:00:00Z/..", func(p map[string]any, _ bool) bool {
			return p["inspected_on"] == nil || text(p["inspected_on"]) >= "2025-01-01"
		}},
		{"until", "datetime=/2023-12-31", func(p map[string]any, _ bool) bool {
			return p["inspected_on"] == nil || text(p["inspected_on"]) <= "2023-12-31"
		}},
		{"between", "datetime=2023-01-01/2023-12-31", func(p map[string]any, _ bool) bool {
			return p["inspected_on"] == nil || strings.HasPrefix(text(p["inspected_on"]), "2023")
		}},
		{"a box elsewhere has what lies nowhere", "bbox=10,50,11,51", func(_ map[string]any, placed bool) bool { return !placed }},
		{"a box over the antimeridian", "bbox=170,-90,-100,90", func(map[string]any, bool) bool { return true }},
		{"a box around it all, with heights", "bbox=-180,-90,-100,180,90,9000", func(map[string]any, bool) bool { return true }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var got, want []string
			for _, f := range features(t, items+"&"+c.query).Features {
				got = append(got, text(f.Properties["tag"]))
			}
			for _, f := range all {
				if c.wanted(f.Properties, f.Geometry != nil) {
					want = append(want, text(f.Properties["tag"]))
				}
			}
			slices.Sort(got)
			slices.Sort(want)
			if diff := cmp.Diff(want, got); diff != "" || len(want) == 0 {
				t.Errorf("%d features, want %d: %.1000s", len(got), len(want), diff)
			}
		})
	}
}

// TestOGCRequirements checks answers against the requirements of OGC API -
// Features - Part 1: Core (OGC 17-069r4), clause 7, by their names there.
func TestOGCRequirements(t *testing.T) {
	t.Parallel()
	s, address := serveSample(t)
	waitForWorkList(t, s)
	base := address + "/ogc"
	read := func(path string) map[string]any {
		t.Helper()
		status, _, body := get(t, base+path)
		var v map[string]any
		if err := json.Unmarshal([]byte(body), &v); err != nil || status != 200 {
			t.Fatalf("%s: %d %v %.300s", path, status, err, body)
		}
		return v
	}
	rels := func(v map[string]any) map[string]string {
		out := map[string]string{}
		for _, l := range v["links"].([]any) {
			l := l.(map[string]any)
			out[l["rel"].(string)] = l["href"].(string)
		}
		return out
	}
	t.Run("root-success", func(t *testing.T) {
		links := rels(read(""))
		for _, rel := range []string{"self", "service-desc", "conformance", "data"} {
			if status, _, _ := get(t, links[rel]); status != 200 {
				t.Errorf("%s leads to %q: %d", rel, links[rel], status)
			}
		}
	})
	t.Run("conformance-success", func(t *testing.T) {
		if got := fmt.Sprint(read("/conformance")["conformsTo"]); !strings.Contains(got, "/conf/core") || !strings.Contains(got, "/conf/geojson") || !strings.Contains(got, "/conf/oas30") {
			t.Errorf("got %s", got)
		}
	})
	t.Run("oas30-definition", func(t *testing.T) {
		_, h, _ := get(t, base+"/api")
		api := read("/api")
		if h.Get("Content-Type") != "application/vnd.oai.openapi+json;version=3.0" || !strings.HasPrefix(api["openapi"].(string), "3.0") {
			t.Errorf("got %s, openapi %v", h.Get("Content-Type"), api["openapi"])
		}
		paths := api["paths"].(map[string]any)
		for _, p := range []string{"/", "/conformance", "/collections", "/collections/joints", "/collections/joints/items", "/collections/joints/items/{featureId}"} {
			if paths[p] == nil {
				t.Errorf("%s is not described", p)
			}
		}
	})
	t.Run("fc-md-success, fc-md-items-links, fc-md-extent, sfc-md-success", func(t *testing.T) {
		for _, c := range read("/collections")["collections"].([]any) {
			c := c.(map[string]any)
			one := read("/collections/" + c["id"].(string))
			if diff := cmp.Diff(c, one); diff != "" {
				t.Error(diff)
			}
			if status, h, _ := get(t, rels(c)["items"]+"?limit=1"); status != 200 || h.Get("Content-Type") != "application/geo+json" {
				t.Errorf("items of %v: %d %v", c["id"], status, h)
			}
			box := c["extent"].(map[string]any)["spatial"].(map[string]any)["bbox"].([]any)[0].([]any)
			if len(box) != 4 || box[0].(float64) >= box[2].(float64) {
				t.Errorf("extent %v", box)
			}
		}
	})
	t.Run("fc-timeStamp, fc-rel-type", func(t *testing.T) {
		p := features(t, base+"/collections/bridges/items?limit=2")
		if !regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$`).MatchString(p.TimeStamp) || p.Type != "FeatureCollection" {
			t.Errorf("got %s, %s", p.TimeStamp, p.Type)
		}
		for _, l := range p.Links {
			if l.Type == "" {
				t.Errorf("the link %s has no type", l.Rel)
			}
		}
	})
	t.Run("f-success, f-links", func(t *testing.T) {
		first := features(t, base+"/collections/joints/items?limit=1&offset=7").Features[0]
		one := read(fmt.Sprintf("/collections/joints/items/%d", first.ID))
		if one["type"] != "Feature" || one["properties"].(map[string]any)["tag"] != first.Properties["tag"] || rels(one)["collection"] == "" || rels(one)["self"] == "" {
			t.Errorf("got %v", one)
		}
	})
	for _, c := range []struct {
		name, path string
		status     int
	}{
		{"query-param-unknown", "/collections/joints/items?colour=red", 400},
		{"query-param-unknown elsewhere", "/conformance?limit=1", 400},
		{"query-param-invalid: limit", "/collections/joints/items?limit=0", 400},
		{"query-param-invalid: limit is no number", "/collections/joints/items?limit=many", 400},
		{"query-param-invalid: bbox", "/collections/joints/items?bbox=1,2,3", 400},
		{"query-param-invalid: bbox outside of the world", "/collections/joints/items?bbox=0,0,400,10", 400},
		{"query-param-invalid: bbox is not finite", "/collections/joints/items?bbox=NaN,0,1,1", 400},
		{"query-param-invalid: datetime", "/collections/joints/items?datetime=yesterday", 400},
		{"query-param-invalid: datetime ends first", "/collections/joints/items?datetime=2025-01-01/2024-01-01", 400},
		{"query-param-invalid: datetime open at both ends", "/collections/joints/items?datetime=../..", 400},
		{"another reference system", "/collections/joints/items?bbox=1,2,3,4&bbox-crs=EPSG:3857", 400},
		{"no such collection", "/collections/rivers/items", 404},
		{"no such feature", "/collections/joints/items/99999999", 404},
		{"no such feature by name", "/collections/joints/items/J000001", 404},
		{"limit over the most", "/collections/joints/items?limit=1000000", 200},
		{"a format", "/collections?f=json", 200},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, h, body := get(t, base+c.path)
			if status != c.status {
				t.Fatalf("got %d %.200s, want %d", status, body, c.status)
			}
			if status >= 400 && (h.Get("Content-Type") != "application/json" || !strings.Contains(body, `"code":`)) {
				t.Errorf("got %s %s", h.Get("Content-Type"), body)
			}
		})
	}
}

// TestOGCSaysInvented: what is invented is said to be.
func TestOGCSaysInvented(t *testing.T) {
	s, address := serveSample(t)
	notice, err := store.Notice(t.Context(), s.Store.Read())
	if err != nil {
		t.Fatal(err)
	}
	if _, _, body := get(t, address+"/ogc"); !strings.Contains(body, notice) {
		t.Errorf("%q is not in %s", notice, body)
	}
}
