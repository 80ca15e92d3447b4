package forecasttest

import (
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/paulmach/orb"
	"gonum.org/v1/gonum/stat/distuv"

	"reseal/geo"
	"reseal/inventory"
	"reseal/inventory/store"
)

// History is an invented network whose seals truly wear by the model: each
// joint is of Pieces equal pieces, each a Markov chain of the kind's rates
// times the joint's own pace and, under heavy deicing, HeavyFaster.
type History struct {
	Bridges     int // of JointsPerBridge joints
	FirstYear   int // of inspections, every second year through LastYear
	LastYear    int
	Pieces      int
	K           float64               // of the paces, Gamma(k, k)
	Rates       map[string][3]float64 // by seal kind, a year
	HeavyFaster float64
	SiteShare   float64 // probability that a new seal keeps the pace of the one before it
	Unrecorded  float64 // probability that feet get better between inspections with no work on record

	UnknownDate float64 // probability that a seal's installation date is not on record, unless work put it in
	Missed      float64 // probability that an inspection is not made
	Late        float64 // probability that an inspection is up to a year and a half late
	Unseen      float64 // probability, by month, that a failed seal is renewed before an inspection finds it so
	Misrated    float64 // probability that a piece is rated one state off; the agency acts on what is rated
}

// Usual is a history with rates of 0.2, 0.15 and 0.1, and twice that for
// pourable seals.
func Usual(bridges int) History {
	return History{
		Bridges: bridges, FirstYear: 2012, LastYear: 2024, Pieces: 3, K: 4, HeavyFaster: 1.4,
		Rates: map[string][3]float64{"strip seal": {0.2, 0.15, 0.1}, "pourable seal": {0.4, 0.3, 0.2}},
	}
}

// EachKind is the usual history with seals of all kinds that Fill has.
func EachKind(bridges int) History {
	h := Usual(bridges)
	for _, kind := range kinds {
		if _, ok := h.Rates[kind]; !ok {
			h.Rates[kind] = [3]float64{0.25, 0.2, 0.15}
		}
	}
	return h
}

// FillHistory adds the network to an inventory. Seals that have a piece in CS4
// are renewed: before the first year of inspections within a month, unseen;
// afterwards half a year after the inspection that found it, on record. The
// same seed gives the same network.
func (h History) FillHistory(ctx context.Context, s *store.Store, seed uint64) error {
	n := &network{r: rand.New(rand.NewPCG(seed, 2))}
	return n.fill(ctx, s, h.Bridges, []columnsOf{
		{"bridges", []string{"id", "uid", "geom", "state", "structure_number", "route", "milepost", "district", "deicing", "year_built", "lanes"}},
		{"joints", []string{"id", "uid", "tag", "geom", "bridge_id", "place", "sequence", "length_ft", "lanes"}},
		{"stretches", []string{"id", "uid", "joint_id", "from_ft", "to_ft"}},
		{"seals", []string{"uid", "stretch_id", "kind", "installed_on", "removed_on", "removed_why"}},
		{"inspections", []string{"id", "uid", "joint_id", "inspected_on"}},
		{"inspection_feet", []string{"inspection_id", "stretch_id", "cs1_ft", "cs2_ft", "cs3_ft", "cs4_ft", "not_seen_ft"}},
		{"work", []string{"uid", "joint_id", "done_on", "treatment", "from_ft", "to_ft", "new_seal"}},
	}, func(id int64) error { return h.bridge(n, id) })
}

func (h History) bridge(n *network, id int64) error {
	lon, lat := -121+float64(id%100)*0.02, 44+float64(id/100%100)*0.02
	deicing := []string{"none", "heavy"}[n.r.IntN(2)]
	geom, err := geo.Geometry{Geometry: orb.Point{lon, lat}}.Value()
	if err != nil {
		return err
	}
	built := 1970 + n.r.IntN(35)
	n.row("bridges", id, n.id(), geom, "41", fmt.Sprintf("B%06d", id), fmt.Sprint("R ", id%40+1), float64(id%900)/4, fmt.Sprint(id%5+1), deicing, built, 2)
	kinds := slices.Sorted(maps.Keys(h.Rates))
	slices.Reverse(kinds) // as the seeds of the tests have it
	for k := range JointsPerBridge {
		if err := h.joint(n, id, k, orb.Point{lon + float64(k)*0.0002, lat}, built, kinds[n.r.IntN(len(kinds))], deicing == "heavy"); err != nil {
			return err
		}
	}
	return nil
}

// wearing is one joint on its way through time.
type wearing struct {
	h         *History
	base      [3]float64 // of the kind, with the effect of deicing
	rates     [3]float64 // times the seal's own pace
	states    []int
	installed float64
	unknown   bool // installed is not on record
}

func (w *wearing) installedOn() any {
	if w.unknown {
		return nil
	}
	return dayOf(w.installed)
}

// rated are the states as an inspection has them.
func (w *wearing) rated(r *rand.Rand) []int {
	if w.h.Misrated == 0 {
		return w.states
	}
	seen := slices.Clone(w.states)
	for i, s := range seen {
		if r.Float64() < w.h.Misrated {
			seen[i]--
			if s == 0 || s < 3 && r.Float64() < 0.5 {
				seen[i] += 2
			}
		}
	}
	return seen
}

func (h History) joint(n *network, bridge int64, k int, at orb.Point, built int, kind string, heavy bool) error {
	n.joint++
	id, lengthFt := n.joint, 12.0*float64(h.Pieces)
	geom, err := geo.Geometry{Geometry: orb.LineString{at, {at[0], at[1] + 0.0001}}}.Value()
	if err != nil {
		return err
	}
	n.row("joints", id, n.id(), inventory.TagFor(id), geom, bridge, "pier", k+1, lengthFt, 2)
	n.row("stretches", id, n.id(), id, 0, lengthFt)
	w := &wearing{h: &h, base: h.Rates[kind], states: make([]int, h.Pieces)}
	if heavy {
		for i := range w.base {
			w.base[i] *= h.HeavyFaster
		}
	}
	w.renew(n.r, float64(built)+n.r.Float64())
	now := w.installed
	for now < float64(h.FirstYear) { // not on record
		w.age(n.r, 1.0/12)
		now += 1.0 / 12
		if w.failed() {
			w.renew(n.r, now)
		}
	}
	w.unknown = h.UnknownDate > 0 && n.r.Float64() < h.UnknownDate
	for year := h.FirstYear; year <= h.LastYear; year += 2 {
		on := float64(year) + 0.2 + 0.5*n.r.Float64()
		if h.Late > 0 && n.r.Float64() < h.Late {
			on += 1.5 * n.r.Float64()
		}
		if h.Missed > 0 && n.r.Float64() < h.Missed {
			continue
		}
		for h.Unseen > 0 && now+1.0/12 < on {
			w.age(n.r, 1.0/12)
			now += 1.0 / 12
			if w.failed() && n.r.Float64() < h.Unseen {
				h.replace(n, id, kind, w, now)
			}
		}
		w.age(n.r, on-now)
		now = on
		if h.Unrecorded > 0 && n.r.Float64() < h.Unrecorded {
			clear(w.states)
		}
		rated := w.rated(n.r)
		h.look(n, id, rated, on)
		if slices.Contains(rated, 3) {
			now = on + 0.5
			h.replace(n, id, kind, w, now)
		}
	}
	n.row("seals", n.id(), id, kind, w.installedOn(), nil, nil)
	return nil
}

// replace puts in a new seal, on record.
func (h History) replace(n *network, joint int64, kind string, w *wearing, at float64) {
	n.row("seals", n.id(), joint, kind, w.installedOn(), dayOf(at), "wear")
	n.row("work", n.id(), joint, dayOf(at), "reseal", 0, nil, true)
	w.renew(n.r, at)
	w.unknown = false
}

func (w *wearing) renew(r *rand.Rand, at float64) {
	clear(w.states)
	if w.installed == 0 || r.Float64() >= w.h.SiteShare {
		pace := distuv.Gamma{Alpha: w.h.K, Beta: w.h.K, Src: r}.Rand()
		for i, q := range w.base {
			w.rates[i] = q * pace
		}
	}
	w.installed = at
}

func (w *wearing) failed() bool {
	for _, s := range w.states {
		if s == 3 {
			return true
		}
	}
	return false
}

// age lets each piece wear for some years.
func (w *wearing) age(r *rand.Rand, years float64) {
	for i, s := range w.states {
		for left := years; s < 3; s++ {
			if left -= r.ExpFloat64() / w.rates[s]; left < 0 {
				break
			}
		}
		w.states[i] = s
	}
}

func (h History) look(n *network, joint int64, states []int, on float64) {
	var ft [4]float64
	for _, s := range states {
		ft[s] += 12
	}
	n.inspection++
	n.row("inspections", n.inspection, n.id(), joint, dayOf(on))
	n.row("inspection_feet", n.inspection, joint, ft[0], ft[1], ft[2], ft[3], 0)
}

func dayOf(year float64) inventory.Date {
	return inventory.DateOf(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, int(math.Round((year-2000)*365.25))))
}
