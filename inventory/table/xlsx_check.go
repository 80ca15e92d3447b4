package table

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// checkParts reads the sheets and shared texts of a workbook through once. The
// library takes the first fault in their XML for the end of the sheet and says
// nothing, so that rows would be lost in silence.
func checkParts(path string, charset func(string, io.Reader) (io.Reader, error)) (err error) {
	archive, err := zip.OpenReader(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, archive.Close()) }()
	for _, part := range archive.File {
		name := strings.ToLower(part.Name)
		if strings.HasPrefix(name, "xl/worksheets/sheet") || name == "xl/sharedstrings.xml" {
			if err := checkXML(part, charset); err != nil {
				return fmt.Errorf("%s: %w", part.Name, err)
			}
		}
	}
	return nil
}

func checkXML(part *zip.File, charset func(string, io.Reader) (io.Reader, error)) (err error) {
	in, err := part.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	decoder := xml.NewDecoder(in)
	decoder.CharsetReader = charset
	depth := 0
	for {
		token, err := decoder.RawToken()
		switch {
		case errors.Is(err, io.EOF) && depth == 0:
			return nil
		case errors.Is(err, io.EOF):
			return io.ErrUnexpectedEOF
		case err != nil:
			return err
		}
		switch token.(type) {
		case xml.StartElement:
			depth++
		case xml.EndElement:
			depth--
		}
	}
}
