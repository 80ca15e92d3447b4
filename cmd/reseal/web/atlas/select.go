package atlas

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// Selection chooses joints by place and by class.
type Selection struct {
	Box    *orb.Bound
	Area   *orb.Ring
	Scale  int    // of Hidden
	Hidden uint16 // classes left out, a bit each
}

// Has tells whether a joint is chosen. Joints that are nowhere are chosen only
// where no place is asked for.
func (s *Selection) Has(j *Joint) bool {
	switch {
	case s.Hidden>>j.Class[s.Scale]&1 == 1:
		return false
	case s.Box == nil && s.Area == nil:
		return true
	case !j.somewhere:
		return false
	}
	return (s.Box == nil || s.Box.Contains(j.at)) && (s.Area == nil || planar.RingContains(*s.Area, j.at))
}

// Select returns the chosen joints, the most urgent first: those with severe
// findings and plates, then by the probability of having failed next year.
func (a *Atlas) Select(s Selection) []*Joint {
	if s.Area != nil && s.Box == nil {
		b := s.Area.Bound()
		s.Box = &b
	}
	var out []*Joint
	for _, j := range a.urgent {
		if s.Has(j) {
			out = append(out, j)
		}
	}
	return out
}

// order puts all joints in the order of urgency, once for all selections.
func (a *Atlas) order() {
	a.urgent = make([]*Joint, len(a.joints))
	for i := range a.joints {
		a.urgent[i] = &a.joints[i]
	}
	slices.SortFunc(a.urgent, func(p, q *Joint) int {
		return cmp.Or(-cmp.Compare(boolean(p.Class[byUrgency] == 5), boolean(q.Class[byUrgency] == 5)),
			cmp.Compare(q.Failed, p.Failed), cmp.Compare(p.ID, q.ID))
	})
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Drawn tells whether all joints have a line, by which a place in the
// inventory finds them.
func Drawn(joints []*Joint) bool {
	return !slices.ContainsFunc(joints, func(j *Joint) bool { return !j.line })
}

// Travel puts joints in the order of travel: by route, milepost, and along the
// bridge.
func Travel(joints []*Joint) {
	mile := func(j *Joint) float64 {
		if j.Bridge.Milepost == nil {
			return 0
		}
		return *j.Bridge.Milepost
	}
	slices.SortFunc(joints, func(p, q *Joint) int {
		return cmp.Or(cmp.Compare(boolean(p.Bridge.Route == ""), boolean(q.Bridge.Route == "")), cmp.Compare(p.Bridge.Route, q.Bridge.Route),
			cmp.Compare(mile(p), mile(q)), cmp.Compare(p.Bridge.Number, q.Bridge.Number), cmp.Compare(p.ID, q.ID))
	})
}

// Joint is the joint with a tag, or nil.
func (a *Atlas) Joint(tag string) *Joint {
	for i := range a.joints {
		if strings.EqualFold(a.joints[i].Tag, tag) {
			return &a.joints[i]
		}
	}
	return nil
}

// ByID is the joint with a key, or nil.
func (a *Atlas) ByID(id int64) *Joint { return a.byID[id] }

// Bridge is the bridge with a key, or nil.
func (a *Atlas) Bridge(id int64) *Bridge {
	at, ok := slices.BinarySearchFunc(a.bridges, id, func(b Bridge, id int64) int { return cmp.Compare(b.ID, id) })
	if !ok {
		return nil
	}
	return &a.bridges[at]
}

// At is where a joint is; ok is false where that is not known.
func (j *Joint) At() (p orb.Point, ok bool) { return j.at, j.somewhere }

// At is where a bridge is; ok is false where that is not known.
func (b *Bridge) At() (p orb.Point, ok bool) { return b.point, b.located }

// Hit is something that a search found: a joint, or else a bridge.
type Hit struct {
	Joint  *Joint
	Bridge *Bridge
}

// Find looks for what people type: a tag or the agency's label of a joint, a
// structure number or a part of it, or a route with a milepost ("US 20 144.2"),
// for which the nearest bridges on that route come first. At most limit hits.
func (a *Atlas) Find(text string, limit int) []Hit {
	text = strings.ToLower(strings.Join(strings.Fields(text), " "))
	if text == "" {
		return nil
	}
	var out []Hit
	for i := range a.joints {
		if j := &a.joints[i]; strings.ToLower(j.Tag) == text || strings.ToLower(j.Label) == text {
			out = append(out, Hit{Joint: j, Bridge: j.Bridge})
		}
	}
	type found struct {
		b    *Bridge
		rank float64
	}
	var some []found
	for i := range a.bridges {
		b := &a.bridges[i]
		if rank, ok := b.matches(text); ok && len(b.Joints) > 0 {
			some = append(some, found{b, rank})
		}
	}
	slices.SortFunc(some, func(p, q found) int {
		return cmp.Or(cmp.Compare(p.rank, q.rank), cmp.Compare(p.b.Number, q.b.Number), cmp.Compare(p.b.ID, q.b.ID))
	})
	for _, f := range some {
		out = append(out, Hit{Bridge: f.b})
	}
	return out[:min(limit, len(out))]
}

// matches tells whether a bridge is meant, and how far off it is: 0 for its
// number itself, then parts of it, then miles along its route.
func (b *Bridge) matches(text string) (rank float64, ok bool) {
	number := strings.ToLower(b.Number)
	switch {
	case text == number, text == b.State+"/"+number:
		return 0, true
	case strings.Contains(number, text):
		return 1, true
	}
	route := strings.ToLower(b.Route)
	if route == "" {
		return 0, false
	}
	if text == route {
		if b.Milepost != nil {
			return 2 + max(*b.Milepost, 0), true
		}
		return 2, true
	}
	rest, on := strings.CutPrefix(text, route+" ")
	if !on || b.Milepost == nil {
		return 0, false
	}
	rest = strings.TrimSpace(strings.TrimPrefix(strings.TrimPrefix(rest, "milepost"), "mp"))
	mile, err := strconv.ParseFloat(rest, 64)
	if err != nil {
		return 0, false
	}
	return 2 + abs(mile-*b.Milepost), true
}
