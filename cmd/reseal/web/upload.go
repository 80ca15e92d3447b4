package web

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"time"
	"unicode"

	"reseal/inventory/store"
)

// An upload is a file that was sent to be taken in. It waits in a folder of
// this process until it has been confirmed or keepFor is over.
type upload struct {
	Token string
	Name  string // as the browser gave it, without a folder
	Size  int64
	path  string

	mu   sync.Mutex // of what follows
	ask  asked
	seen *intakeSeen // what the last look at it found; nil: nobody has looked
	job  *job        // the look or the taking in that goes on or was last
}

// uploads are the files that wait.
type uploads struct {
	mu      sync.Mutex
	dir     string
	byToken map[string]*upload
	order   []string // oldest first
}

// maxUploads is how many files wait at most: the oldest makes room.
const maxUploads = 8

// longestField is how long a value beside the file can be.
const longestField = 1 << 10

// receive keeps the file of a form, and returns the form's other values, which
// must stand before it. Nothing of the file is held in memory.
func (s *Server) receive(r *http.Request) (*upload, map[string]string, error) {
	parts, err := r.MultipartReader()
	if err != nil {
		return nil, nil, store.Invalid("choose a file in the form", "no file came with the request")
	}
	values := map[string]string{}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return nil, nil, store.Invalid("choose one with the button, or drop it onto the page", "no file was chosen")
		}
		if err != nil {
			return nil, nil, cutShort(err)
		}
		if part.FormName() != "file" {
			b, err := io.ReadAll(io.LimitReader(part, longestField))
			if err != nil {
				return nil, nil, cutShort(err)
			}
			values[part.FormName()] = strings.TrimSpace(string(b))
			continue
		}
		if part.FileName() == "" { // as a browser sends a field that was left empty
			continue
		}
		u, err := s.keep(part)
		return u, values, err
	}
}

// cutShort explains a form that did not come whole.
func cutShort(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return store.Hinted(err, fmt.Sprintf("a file has at most %d MB: pack it with gzip, or use the command line: reseal import", large.Limit>>20))
	}
	return store.Invalid("send it again", "the file did not arrive whole: %v", err)
}

// keep writes the file of a form to the folder.
func (s *Server) keep(part *multipart.Part) (_ *upload, err error) {
	u := &upload{Token: rand.Text(), Name: fileName(part.FileName())}
	dir, err := s.uploads.folder()
	if err != nil {
		return nil, err
	}
	u.path = filepath.Join(dir, u.Token)
	f, err := os.OpenFile(u.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err = errors.Join(err, f.Close()); err != nil {
			os.Remove(u.path)
		}
	}()
	if u.Size, err = io.Copy(f, part); err != nil {
		return nil, cutShort(err)
	}
	if u.Size == 0 {
		return nil, store.Invalid("choose another", "%s is empty", u.Name)
	}
	s.uploads.add(u)
	time.AfterFunc(keepFor, func() { s.uploads.drop(u.Token) })
	return u, nil
}

// fileName is a name as it can be shown and offered again: no folder, no
// control characters, not endless.
func fileName(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, name)
	if r := []rune(name); len(r) > 100 {
		name = string(r[:100])
	}
	if name == "" || name == "." || name == "/" {
		return "file"
	}
	return name
}

// folder is where the files wait; it is made at the first one.
func (u *uploads) folder() (string, error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.dir == "" {
		dir, err := os.MkdirTemp("", "reseal-uploads-") // for this user alone
		if err != nil {
			return "", fmt.Errorf("a folder for files that are sent: %w", err)
		}
		u.dir = dir
	}
	return u.dir, nil
}

func (u *uploads) add(up *upload) {
	u.mu.Lock()
	if u.byToken == nil {
		u.byToken = map[string]*upload{}
	}
	u.byToken[up.Token] = up
	u.order = append(u.order, up.Token)
	var oldest string
	if len(u.order) > maxUploads {
		oldest = u.order[0]
	}
	u.mu.Unlock()
	if oldest != "" {
		u.drop(oldest)
	}
}

// find returns the upload of a token. A token is only looked up, never part of
// a path.
func (u *uploads) find(token string) (*upload, error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if up := u.byToken[token]; up != nil {
		return up, nil
	}
	return nil, store.NotFound("send the file again; what has been taken in is on record", "that file is no longer here")
}

// drop forgets an upload and removes its files.
func (u *uploads) drop(token string) {
	u.mu.Lock()
	up := u.byToken[token]
	delete(u.byToken, token)
	for i, t := range u.order {
		if t == token {
			u.order = append(u.order[:i], u.order[i+1:]...)
			break
		}
	}
	u.mu.Unlock()
	if up != nil {
		os.Remove(up.path)
		os.Remove(up.badPath())
	}
}

// clear removes the folder.
func (u *uploads) clear() error {
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.dir == "" {
		return nil
	}
	return os.RemoveAll(u.dir)
}

// badPath is the file of the rows that were left out.
func (u *upload) badPath() string { return u.path + "-bad" }
