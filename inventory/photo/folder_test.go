package photo_test

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"reseal/inventory/photo"
	"reseal/inventory/store"
)

func picture(t testing.TB, shade uint8, encode func(io.Writer, image.Image) error) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 8, 8))
	img.Set(1, 1, color.Gray{Y: shade})
	var b bytes.Buffer
	if err := encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asJPEG(w io.Writer, m image.Image) error { return jpeg.Encode(w, m, nil) }

func TestKeep(t *testing.T) {
	inventory := filepath.Join(t.TempDir(), "network.gpkg")
	folder := photo.Beside(inventory)
	one := picture(t, 200, asJPEG)
	names := map[string]bool{}
	for _, b := range [][]byte{one, one, picture(t, 90, asJPEG), picture(t, 200, png.Encode)} {
		name, err := folder.Keep(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		names[name] = true
		file, err := folder.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(file)
		file.Close()
		if err != nil || !bytes.Equal(got, b) {
			t.Errorf("%s: got %d bytes, %v; want the %d kept", name, len(got), err, len(b))
		}
	}
	files, err := os.ReadDir(inventory + ".photos")
	if err != nil || len(files) != 3 || len(names) != 3 {
		t.Errorf("got %d files and %d names, %v; want 3: the one sent twice is kept once", len(files), len(names), err)
	}
}

func TestRefused(t *testing.T) {
	folder := photo.Beside(filepath.Join(t.TempDir(), "network.gpkg"))
	for name, r := range map[string]io.Reader{
		"text":      strings.NewReader("<svg onload='x()'/>"),
		"nothing":   strings.NewReader(""),
		"too large": io.MultiReader(bytes.NewReader(picture(t, 1, asJPEG)), bytes.NewReader(make([]byte, photo.MaxBytes))),
	} {
		if _, err := folder.Keep(r); !errors.Is(err, store.ErrInvalid) {
			t.Errorf("%s: got %v, want a refusal", name, err)
		}
	}
	for _, name := range []string{"", "../network.gpkg", strings.Repeat("0", 64) + ".jpg", strings.Repeat("0", 64) + ".svg"} {
		if _, err := folder.Open(name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%q: got %v, want not found", name, err)
		}
	}
}

func ExampleFolder() {
	folder := photo.Beside("network.gpkg")
	_, err := folder.Keep(strings.NewReader("not a photo"))
	fmt.Println(err)
	// Output: the file is no photo
}
