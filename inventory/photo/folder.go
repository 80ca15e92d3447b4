package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"

	"reseal/inventory/store"
)

// MaxBytes is the largest photo that is kept: a phone's own, not made smaller.
const MaxBytes = 16 << 20

// kinds are the kinds of files kept, and how their names end.
var kinds = map[string]string{"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp"}

var named = regexp.MustCompile(`^[0-9a-f]{64}\.(jpg|png|webp)$`)

// Folder is where the photos of one inventory are.
type Folder string

// Beside is the folder of the inventory in a file. It is made with the first
// photo.
func Beside(inventory string) Folder { return Folder(inventory + ".photos") }

// Keep stores a JPEG, PNG or WebP file and returns its name. Anything else is
// store.ErrInvalid.
func (f Folder) Keep(r io.Reader) (name string, err error) {
	b, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return "", fmt.Errorf("read the photo: %w", err)
	}
	end, ok := kinds[http.DetectContentType(b)]
	switch {
	case len(b) > MaxBytes:
		return "", store.Invalid("send one of at most 16 MB", "the photo is too large")
	case !ok:
		return "", store.Invalid("send a JPEG, PNG or WebP picture", "the file is no photo")
	}
	sum := sha256.Sum256(b)
	name = hex.EncodeToString(sum[:]) + end
	path := filepath.Join(string(f), name)
	if _, err := os.Stat(path); err == nil {
		return name, nil
	}
	if err := os.MkdirAll(string(f), 0o755); err != nil {
		return "", fmt.Errorf("make the folder of photos: %w", err)
	}
	part, err := os.CreateTemp(string(f), ".part-*")
	if err != nil {
		return "", fmt.Errorf("keep the photo: %w", err)
	}
	defer os.Remove(part.Name()) // gone once it has its name
	_, err = io.Copy(part, bytes.NewReader(b))
	if err = errors.Join(err, part.Chmod(0o644), part.Sync(), part.Close()); err == nil {
		err = os.Rename(part.Name(), path)
	}
	if err != nil {
		return "", fmt.Errorf("keep the photo: %w", err)
	}
	return name, nil
}

// Open opens the photo with a name. A name that Keep did not give is
// store.ErrNotFound.
func (f Folder) Open(name string) (*os.File, error) {
	missing := store.NotFound("photos lie in the folder "+string(f)+"; copy it along with the inventory", "there is no photo %s", name)
	if !named.MatchString(name) {
		return nil, missing
	}
	file, err := os.Open(filepath.Join(string(f), name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, missing
	}
	return file, err
}
