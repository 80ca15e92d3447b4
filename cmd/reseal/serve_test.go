package main

import (
	"bufio"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

func TestServeRefuses(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	for _, tt := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"an address that others reach", []string{"--listen", "0.0.0.0:0"}, exitUsage, "--behind-proxy"},
		{"every address", []string{"--listen", ":8080"}, exitUsage, "--behind-proxy"},
		{"a name", []string{"--listen", "bridges.example.org:80"}, exitUsage, "--behind-proxy"},
		{"no port", []string{"--listen", "127.0.0.1"}, exitUsage, "127.0.0.1"},
		{"a port in use", []string{"--listen", taken.Addr().String()}, exitFailed, "choose another with --listen"},
		{"an argument", []string{"network.gpkg"}, exitUsage, "name the inventory with --db"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			db := filepath.Join(t.TempDir(), "new.gpkg")
			code, _, messages := reseal(t, db, append([]string{"serve"}, tt.args...)...)
			if code != tt.code || !strings.Contains(messages, tt.says) {
				t.Errorf("got %d with %q, want %d with %q", code, messages, tt.code, tt.says)
			}
			if _, err := os.Stat(db); err == nil {
				t.Error("an inventory was made although nothing is served")
			}
		})
	}
}

// TestServe starts the command on an inventory that is not there, fetches the
// first page, and stops it as Ctrl-C does, with and without a proxy.
func TestServe(t *testing.T) {
	for name, more := range map[string][]string{"alone": {"--listen", "127.0.0.1:0"}, "behind a proxy": {"--listen", "0.0.0.0:0", "--behind-proxy"}} {
		t.Run(name, func(t *testing.T) {
			db := filepath.Join(t.TempDir(), "new.gpkg")
			ctx, interrupt := context.WithCancel(t.Context())
			defer interrupt()
			messages, to := io.Pipe()
			ended := make(chan int, 1)
			go func() {
				w := world{in: strings.NewReader(""), out: io.Discard, err: to, now: fixedNow}
				ended <- run(ctx, append([]string{"reseal", "--db", db, "--by", "the server", "serve"}, more...), w)
				to.Close()
			}()
			lines := bufio.NewScanner(messages)
			var said, port string
			for port == "" && lines.Scan() {
				said += lines.Text() + "\n"
				if m := regexp.MustCompile(`is at http://\S+:(\d+)`).FindStringSubmatch(lines.Text()); m != nil {
					port = m[1]
				}
			}
			go io.Copy(io.Discard, messages) // what it says later holds nothing up
			if !strings.Contains(said, "an empty inventory is made") {
				t.Errorf("got %q, want that an inventory is made", said)
			}
			r, err := http.Get("http://127.0.0.1:" + port + "/")
			if err != nil {
				t.Fatalf("%v after %s", err, said)
			}
			body, err := io.ReadAll(r.Body)
			r.Body.Close()
			if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(body), "A new inventory") {
				t.Errorf("got %d (%v): %.300s", r.StatusCode, err, body)
			}
			if asked := !strings.Contains(string(body), "the server"); asked != slices.Contains(more, "--behind-proxy") {
				t.Errorf("the page asks for a name: %v", asked)
			}
			interrupt()
			if code := <-ended; code != exitDone {
				t.Errorf("got exit %d when stopped, want %d", code, exitDone)
			}
			if code, _, messages := reseal(t, db, "check"); code != exitDone {
				t.Errorf("the inventory that was served: exit %d: %s", code, messages)
			}
		})
	}
}
