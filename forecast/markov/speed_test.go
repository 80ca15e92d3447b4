//go:build unix

package markov

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// The same panel of 20,000 subjects, 6 irregular intervals and 2 covariates
// fitted by R's msm and by FitPanel in one run: the likelihood must not be
// worse. The times are printed, in wall clock and in processor seconds, which
// hold on a busy machine too; they are not judged.
func TestSpeedBesideMsm(t *testing.T) {
	if os.Getenv("RESEAL_LONG") != "1" {
		t.Skip("a minute of R; set RESEAL_LONG=1")
	}
	run := func(args ...string) []byte {
		cmd := exec.Command("Rscript", append([]string{"speed.R"}, args...)...)
		cmd.Dir = golden
		out, err := cmd.Output()
		if err != nil {
			t.Skipf("needs R with the package msm: %v", err)
		}
		return out
	}
	text := run("panel")
	file := filepath.Join(t.TempDir(), "panel.csv")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	var msmWall, msmCPU, msm float64
	if _, err := fmt.Sscan(string(run("fit", file)), &msmWall, &msmCPU, &msm); err != nil {
		t.Fatal(err)
	}
	seen := readObservations(t, bytes.NewReader(text), 2)
	wall, cpu := time.Now(), cpuSeconds(t)
	f := mustFit(t, panelOf(t, Worsening(4), seen, Inspected), Model{})
	ours, oursCPU := time.Since(wall).Seconds(), cpuSeconds(t)-cpu
	t.Logf("msm %.1f s (processor %.1f s), −2 log L %.6f", msmWall, msmCPU, msm)
	t.Logf("FitPanel %.2f s (processor %.2f s), −2 log L %.6f", ours, oursCPU, f.MinusTwoLogL)
	t.Logf("%.0f times as fast, %.0f times by processor time", msmWall/ours, msmCPU/oursCPU)
	if f.MinusTwoLogL > msm+1e-6 {
		t.Errorf("−2 log L %.8f, msm's %.8f", f.MinusTwoLogL, msm)
	}
}

func cpuSeconds(t *testing.T) float64 {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Skip(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}
