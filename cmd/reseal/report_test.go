package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The quarter's figures follow from what was approved, done and dropped.
func TestQuarterReport(t *testing.T) {
	reseal := forecastWorld(t)
	must := func(args ...string) string {
		t.Helper()
		out, errs, code := reseal("", args...)
		if code != 0 {
			t.Fatalf("reseal %s: exit %d: %s", strings.Join(args, " "), code, errs)
		}
		return out
	}
	must("worklist", "--year", "2027", "--budget", "90000", "--approve", "FY27")
	must("job", "program", "--list", "FY27", "--all")
	jobs := strings.Split(strings.TrimSpace(must("job", "list", "FY27", "--format", "csv")), "\n")[1:]
	tag := func(i int) string { return strings.Split(jobs[i], ",")[2] }
	must("job", "complete", tag(0), "--cost", "7000")
	must("job", "drop", tag(1), "--reason", "deck replaced in 2028")
	must("finding", "add", tag(2), "plate", "placed", "--on", "2026-02-19")
	got := must("report", "--quarter", "--format", "csv")
	for _, want := range []string{
		"done in quarter,FY27,1,", ",7000.00,", "dropped because," + tag(1), "deck replaced in 2028",
		"open plate," + tag(2) + ",,,,,,10,since 2026-02-19", "cost of a foot,", "overdue,all inspections,",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in:\n%s", want, got)
		}
	}
	if out, errs, code := reseal("", "report", "--quarter", "--date", "2027-01-01"); code != exitUsage || !strings.Contains(errs, "future") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
	for _, line := range strings.Split(must("report", "--quarter"), "\n") {
		if n := len([]rune(line)); n > tableWidth {
			t.Errorf("a line of %d columns: %s", n, line)
		}
	}
}

// The page needs nothing from outside, is marked, and says the same twice.
func TestReportPage(t *testing.T) {
	reseal := forecastWorld(t)
	write := func(args ...string) string {
		t.Helper()
		out, errs, code := reseal("", append([]string{"report", "--output", "-"}, args...)...)
		if code != 0 {
			t.Fatalf("exit %d: %s", code, errs)
		}
		return out
	}
	page := write("--yearly", "30000", "--years", "5", "--levels", "50,150")
	for _, want := range []string{
		"default-src 'none'", "ILLUSTRATIVE", "CAUTION", "Joints by latest condition", "Money by fiscal year", "Condition with nothing done",
		"Condition with the plan", "What other levels of money leave undone", "Backlog: seals expected to have failed", "With the money given, $",
		"The $30,000 of 2027 reach", "replaces no inspection and no engineer",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	rest := strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, "")
	for _, never := range []string{"http:", "https:", "<script", "<link", "url(http", "@import", "NaN", "%!", "ZgotmplZ", "&lt;svg"} {
		if strings.Contains(rest, never) {
			t.Errorf("the page has %q", never)
		}
	}
	if again := write("--yearly", "30000", "--years", "5", "--levels", "50,150"); again != page {
		t.Error("the same report twice is not the same")
	}
	if page := write("--years", "3", "--levels", "50", "--district", "2"); !strings.Contains(page, "as no budget is on record") || !strings.Contains(page, "district 2") {
		t.Error("without money on record the page does not say what it takes in its place")
	}
	for _, args := range []string{"report --years 1", "report --levels x", "report --date 2026-01-01", "report --format csv", "report --yearly none"} {
		if out, errs, code := reseal("", strings.Fields(args)...); code != exitUsage || out != "" {
			t.Errorf("reseal %s: exit %d, %q, %q", args, code, out, errs)
		}
	}
}

// The page prints by a browser on both papers: every table within the paper's
// width, and no more pages than its matter takes.
func TestReportPrints(t *testing.T) {
	browser, err := exec.LookPath("chromium")
	if err == nil {
		_, err = exec.LookPath("pdftotext")
	}
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("chromium and pdftotext are needed: %v", err)
		}
		t.Skip("chromium or pdftotext is not to be had")
	}
	if testing.Short() {
		t.Skip("printing takes a browser")
	}
	reseal := forecastWorld(t)
	dir := t.TempDir()
	file := filepath.Join(dir, "report.html")
	if _, errs, code := reseal("", "report", "--yearly", "30000", "--years", "8", "--levels", "50,100", "--output", file); code != 0 {
		t.Fatal(errs)
	}
	page, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, paper := range []string{"letter", "A4"} {
		html, pdf := filepath.Join(dir, paper+".html"), filepath.Join(dir, paper+".pdf")
		sized := strings.Replace(string(page), "@page { margin", "@page { size: "+paper+"; margin", 1)
		if err := os.WriteFile(html, []byte(sized), 0o644); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(browser, "--headless", "--no-sandbox", "--no-pdf-header-footer", "--user-data-dir="+t.TempDir(), "--print-to-pdf="+pdf, html)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		text, err := exec.Command("pdftotext", "-bbox", pdf, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		pages := regexp.MustCompile(`<page width="([0-9.]+)" height="([0-9.]+)">`).FindAllStringSubmatch(string(text), -1)
		if want := map[string]string{"letter": "612", "A4": "59"}[paper]; len(pages) < 2 || len(pages) > 5 || !strings.HasPrefix(pages[0][1], want) {
			t.Errorf("%s: pages %v", paper, pages)
		}
		if !strings.Contains(string(text), ">CAUTION</word>") || !strings.Contains(string(text), ">Backlog:</word>") {
			t.Errorf("%s: the print lacks the caution or the definition", paper)
		}
		for _, m := range regexp.MustCompile(`xMin="[-0-9.]+" yMin="[-0-9.]+" xMax="([0-9]{3})[0-9.]*"`).FindAllStringSubmatch(string(text), -1) {
			if m[1] > "580" {
				t.Errorf("%s: a word ends %s points from the left, outside the paper's margin", paper, m[1])
				break
			}
		}
	}
}
