package web

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"reseal/geo/mvt"
)

// Tile types of a PMTiles archive (PMTiles specification, version 3, 3.1).
const (
	vectorTiles = 1
	pngTiles    = 2
)

// archiveOf writes a PMTiles archive of version 3 with one tile of the whole
// world: a header of 127 bytes, a root directory, metadata and the tile, none of
// it compressed. The layout is from the specification as remembered; that
// MapLibre's reader takes it is the check.
func archiveOf(t *testing.T, kind byte, metadata string, tile []byte) string {
	t.Helper()
	directory := binary.AppendUvarint(nil, 1)                      // entries
	directory = append(directory, 0, 1)                            // its tile's number, how often it is repeated
	directory = binary.AppendUvarint(directory, uint64(len(tile))) // its length
	directory = append(directory, 1)                               // its offset and one
	at := uint64(127)
	head := append([]byte("PMTiles"), 3)
	for _, part := range []int{len(directory), len(metadata), 0, len(tile)} { // no leaves
		head = binary.LittleEndian.AppendUint64(head, at)
		head = binary.LittleEndian.AppendUint64(head, uint64(part))
		at += uint64(part)
	}
	for range 3 { // tiles addressed, entries, contents
		head = binary.LittleEndian.AppendUint64(head, 1)
	}
	head = append(head, 1, 1, 1, kind, 0, 0) // clustered, no compression twice, zooms from and to
	for _, degrees := range []int32{-180, -85, 180, 85} {
		head = binary.LittleEndian.AppendUint32(head, uint32(degrees*1e7))
	}
	head = append(head, make([]byte, 9)...) // the middle
	file := filepath.Join(t.TempDir(), "streets.pmtiles")
	if err := os.WriteFile(file, bytes.Join([][]byte{head, directory, []byte(metadata), tile}, nil), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestArchiveInABrowser: the agency's own archive lies behind the network, as
// pictures and as lines.
func TestArchiveInABrowser(t *testing.T) {
	inBrowser(t)
	s, address := serveSample(t)
	ready(t, s)
	b := browse(t, address, laptop)

	paint := color.RGBA{255, 0, 255, 255}
	tile := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for i := 0; i < len(tile.Pix); i += 4 {
		copy(tile.Pix[i:], []byte{paint.R, paint.G, paint.B, paint.A})
	}
	var encoded bytes.Buffer
	if err := png.Encode(&encoded, tile); err != nil {
		t.Fatal(err)
	}
	s.Background = archiveOf(t, pngTiles, "{}", encoded.Bytes())
	b.do(chromedp.Navigate(address + "/map?by=urgency"))
	b.await(`document.getElementById("map").map?.getSource("background") && document.getElementById("map").map.loaded()`)
	shown, err := png.Decode(bytes.NewReader(ask(b, chromedp.CaptureScreenshot())))
	if err != nil {
		t.Fatal(err)
	}
	if got := color.RGBAModel.Convert(shown.At(40, 300)); got != paint {
		t.Errorf("behind the network is %v, want the archive's %v", got, paint)
	}

	road := mvt.NewLayer("roads")
	road.Line(1, mvt.Place{X: 0, Y: 1000}, mvt.Place{X: 4095, Y: 3000})
	s.Background = archiveOf(t, vectorTiles, `{"vector_layers":[{"id":"roads","fields":{}}]}`, mvt.Encode(road))
	b.do(chromedp.Navigate(address + "/map?by=urgency"))
	b.await(`document.getElementById("map").map?.getLayer("background-roads") && document.getElementById("map").map.loaded()`)
	b.await(`document.getElementById("map").map.querySourceFeatures("background", {sourceLayer: "roads"}).length`)
}
