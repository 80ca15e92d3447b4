package web

import "strings"

// jointPhoto is a photo of the joint that is kept beside the inventory.
type jointPhoto struct{ Name, Words string }

// jointPhotos are those of the joint's inspections and findings, the latest
// inspection's first. Names of photos that are kept elsewhere are left out.
func (s *Server) jointPhotos(b *jointPage) (out []jointPhoto) {
	add := func(names, words string) {
		for name := range strings.SplitSeq(names, "\n") {
			if f, err := s.photos().Open(name); name != "" && err == nil {
				f.Close()
				out = append(out, jointPhoto{name, words})
			}
		}
	}
	for i := range b.Inspections {
		add(b.Inspections[i].Photos, "Inspection of "+b.Inspections[i].InspectedOn.String())
	}
	for _, f := range b.Findings {
		add(f.Photos, f.Kind+", "+f.FoundOn.String())
	}
	return out
}
