package web

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// TestIcons holds the icons of the manifest to be there, of the kind and size
// that it claims. A maskable one is cut by the phone: what it shows lies in the
// middle circle of a radius of two fifths of its width, the safe zone of the
// W3C's Web Application Manifest, and it is opaque to its edge.
// UPDATE_GOLDEN=1 draws the pictures anew from static/icon.svg.
func TestIcons(t *testing.T) {
	_, address := serveFile(t, filepath.Join(t.TempDir(), "new.gpkg"))
	_, h, text := get(t, address+"/manifest.webmanifest")
	var manifest struct {
		Icons []struct{ Src, Type, Sizes, Purpose string }
	}
	if err := json.Unmarshal([]byte(text), &manifest); err != nil || h.Get("Content-Type") != "application/manifest+json" {
		t.Fatalf("%v: %v", h, err)
	}
	sizes := map[string]bool{}
	for _, icon := range manifest.Icons {
		sizes[icon.Purpose+" "+icon.Sizes] = true
		var width, height int
		if n, _ := fmt.Sscanf(icon.Sizes, "%dx%d", &width, &height); n == 2 && os.Getenv("UPDATE_GOLDEN") != "" {
			drawIcon(t, filepath.Base(icon.Src), width, icon.Purpose)
			continue // the program still has the one before
		}
		status, h, body := get(t, address+icon.Src)
		if status != http.StatusOK || h.Get("Content-Type") != icon.Type {
			t.Errorf("%s: got %d %v, want %s", icon.Src, status, h, icon.Type)
		}
		if icon.Type != "image/png" {
			continue
		}
		picture, err := png.Decode(strings.NewReader(body))
		if err != nil {
			t.Errorf("%s: %v", icon.Src, err)
			continue
		}
		if size := picture.Bounds().Size(); size.X != width || size.Y != height {
			t.Errorf("%s: got %v, want %s", icon.Src, size, icon.Sizes)
		}
		ground := color.NRGBAModel.Convert(picture.At(width/2, height/8)).(color.NRGBA)
		shown := 0
		for y := range height {
			for x := range width {
				at := color.NRGBAModel.Convert(picture.At(x, y)).(color.NRGBA)
				inside := math.Hypot(float64(x)-float64(width)/2, float64(y)-float64(height)/2) < 0.4*float64(width)
				switch {
				case inside && at != ground:
					shown++
				case !inside && icon.Purpose == "maskable" && at != ground:
					t.Fatalf("%s: at %d, %d it shows %v outside the safe zone", icon.Src, x, y, at)
				}
			}
		}
		if corner := color.NRGBAModel.Convert(picture.At(0, 0)).(color.NRGBA); icon.Purpose == "any" && corner.A != 0 {
			t.Errorf("%s: its round corner shows %v", icon.Src, corner)
		}
		if ground.A != 255 || shown < width*height/50 {
			t.Errorf("%s shows nothing: %d pixels on %v", icon.Src, shown, ground)
		}
		if len(body) > 20_000 {
			t.Errorf("%s has %d bytes", icon.Src, len(body))
		}
	}
	for _, want := range []string{"any 192x192", "any 512x512", "maskable 512x512"} {
		if !sizes[want] {
			t.Errorf("the manifest has no icon %s", want)
		}
	}
}

// drawIcon draws static/icon.svg as a picture; a maskable one smaller, on a ground
// that goes to its edge.
func drawIcon(t *testing.T, name string, width int, purpose string) {
	svg, err := os.ReadFile("static/icon.svg")
	if err != nil {
		t.Fatal(err)
	}
	source := string(svg)
	if purpose == "maskable" {
		source = strings.NewReplacer(`viewBox="0 0 32 32"`, `viewBox="-4 -4 40 40"`, `<rect width="32" height="32" rx="6"`, `<rect x="-4" y="-4" width="40" height="40"`).Replace(source)
	}
	page := fmt.Sprintf(`<!doctype html><style>body{margin:0}img{display:block}</style><img width="%[1]d" height="%[1]d" src="data:image/svg+xml;base64,%[2]s">`,
		width, base64.StdEncoding.EncodeToString([]byte(source)))
	h := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		w.Write([]byte(page))
	}))
	defer h.Close()
	b := browse(t, h.URL, [2]int64{int64(width), int64(width)})
	b.forgive("favicon")
	b.do(chromedp.Navigate(h.URL))
	ask(b, chromedp.Action[cdp.Empty](func(ctx context.Context, t *chromedp.Target) (cdp.Empty, error) { // corners are to be seen through
		return cdp.Call(ctx, t, emulation.SetDefaultBackgroundColorOverride, emulation.SetDefaultBackgroundColorOverrideParams{Color: &cdp.RGBA{A: 1e-6}})
	}))
	picture, err := png.Decode(bytes.NewReader(ask(b, chromedp.CaptureScreenshot())))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, picture); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join("static", name), out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}
