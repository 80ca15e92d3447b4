package condition

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/uptrace/bun"

	"reseal/condition/opening"
	"reseal/inventory"
)

// Catalogue is the agency's list of seals to choose from.
type Catalogue []opening.Seal

// LoadCatalogue reads the catalogue, in the order of entry.
func LoadCatalogue(ctx context.Context, db bun.IDB) (Catalogue, error) {
	rows, err := db.QueryContext(ctx, `SELECT kind, size, min_open_in, max_open_in, open_share, close_share, movement_share, movement_in,
		coalesce(cells, 0), width_in, install_min_in, install_max_in, racking_in, skew_max_deg, install_deck_temp_min_f, source, illustrative
		FROM seal_catalogue ORDER BY id`)
	if err != nil {
		return nil, fmt.Errorf("read the seal catalogue: %w", err)
	}
	defer rows.Close()
	var out Catalogue
	for rows.Next() {
		var s opening.Seal
		var v [12]*float64
		if err := rows.Scan(&s.Kind, &s.Size, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5], &s.Cells, &v[6], &v[7], &v[8], &v[9], &v[10], &v[11],
			&s.Source, &s.Illustrative); err != nil {
			return nil, fmt.Errorf("read the seal catalogue: %w", err)
		}
		for i, field := range []*float64{
			&s.MinIn, &s.MaxIn, &s.OpenShare, &s.CloseShare, &s.MovementShare, &s.MovementIn,
			&s.WidthIn, &s.InstallMinIn, &s.InstallMaxIn, &s.RackingIn, &s.SkewMaxDeg, &s.InstallMinF,
		} {
			*field = orNone(v[i])
		}
		out = append(out, s)
	}
	return out, rows.Err()
}

// SealKindOf is the kind under which the inventory keeps a seal of the
// catalogue: it does not tell what is poured, or of what foam is made.
func SealKindOf(k opening.Kind) string {
	switch k {
	case opening.PouredSilicone, opening.PouredSealant:
		return "pourable seal"
	case opening.Foam:
		return "foam seal"
	}
	return string(k)
}

// Find returns the row for a seal of a kind and size: the one whose size reads
// the same, or else begins with the same number. Where the kind has several
// rows that differ in kind only, as poured seals do, the size or the product
// must name the material. ok is false where none or more than one fits.
func (c Catalogue) Find(kind, size, product string) (seal opening.Seal, ok bool) {
	var found []opening.Seal
	for _, s := range c {
		if strings.EqualFold(string(s.Kind), kind) || strings.EqualFold(SealKindOf(s.Kind), kind) {
			found = append(found, s)
		}
	}
	if kind == "pourable seal" {
		words := strings.ToLower(size + " " + product)
		for _, s := range found {
			if _, material, _ := strings.Cut(string(s.Kind), " "); strings.Contains(words, material) {
				return s, true
			}
		}
		return opening.Seal{}, false
	}
	same := func(match func(opening.Seal) bool) bool {
		n := 0
		for _, s := range found {
			if match(s) {
				seal = s
				n++
			}
		}
		return n == 1
	}
	if same(func(s opening.Seal) bool { return strings.EqualFold(strings.TrimSpace(size), s.Size) }) {
		return seal, true
	}
	want, isNumber := leadingNumber(size)
	if isNumber && same(func(s opening.Seal) bool { have, ok := leadingNumber(s.Size); return ok && have == want }) {
		return seal, true
	}
	return opening.Seal{}, false
}

// Names are the rows as Named takes them.
func (c Catalogue) Names() []string {
	names := make([]string, len(c))
	for i, s := range c {
		names[i] = string(s.Kind) + ", " + s.Size
	}
	return names
}

// Named returns the row that a person names as "KIND, SIZE", or by a part of
// it that only one row has.
func (c Catalogue) Named(name string) (opening.Seal, bool) {
	want := strings.ToLower(strings.TrimSpace(name))
	var found []opening.Seal
	for _, s := range c {
		full := strings.ToLower(string(s.Kind) + ", " + s.Size)
		if full == want {
			return s, true
		}
		if strings.Contains(full, want) {
			found = append(found, s)
		}
	}
	if want == "" || len(found) != 1 {
		return opening.Seal{}, false
	}
	return found[0], true
}

var fractions = map[rune]float64{'¼': 0.25, '½': 0.5, '¾': 0.75, '⅛': 0.125, '⅜': 0.375, '⅝': 0.625, '⅞': 0.875}

// leadingNumber reads the number that a size begins with: 4, 2.25, 2¼, 2 1/4.
func leadingNumber(size string) (v float64, ok bool) {
	size = strings.TrimSpace(size)
	end := strings.IndexFunc(size, func(r rune) bool { return !unicode.IsDigit(r) && r != '.' })
	if end < 0 {
		end = len(size)
	}
	if end > 0 {
		var err error
		if v, err = strconv.ParseFloat(size[:end], 64); err != nil {
			return 0, false
		}
		ok = true
	}
	rest := strings.TrimLeft(size[end:], " -")
	for r, part := range fractions {
		if strings.HasPrefix(rest, string(r)) {
			return v + part, true
		}
	}
	var over, under float64
	if n, _ := fmt.Sscanf(rest, "%f/%f", &over, &under); n == 2 && under > 0 {
		return v + over/under, true
	}
	return v, ok
}

// limits are the openings that a seal on record works between, and where they
// are from in words; zero limits come with the reason.
func (c Catalogue) limits(s *inventory.Seal, installedIn float64) (m opening.Limits, from string) {
	row, known := c.Find(s.Kind, s.Size, s.Product)
	if s.MaxOpenIn != nil {
		m = opening.Limits{MinIn: orNone(s.MinOpenIn), MaxIn: *s.MaxOpenIn, RackingIn: row.RackingIn}
		return m, "the seal's own record"
	}
	switch {
	case !known && s.Kind == "pourable seal":
		return m, "the record does not say what was poured: give the seal a size such as silicone"
	case !known:
		return m, fmt.Sprintf("neither the seal's record nor the catalogue gives limits for %s, size %q", s.Kind, s.Size)
	case row.OpenShare > 0 && !(installedIn > 0):
		return m, "a poured seal's limits follow from its width when installed, which is not on record"
	}
	m = row.LimitsAt(installedIn)
	from = fmt.Sprintf("the catalogue's row %s, %s", row.Kind, row.Size)
	if row.Illustrative {
		from += " (illustrative)"
	}
	if !m.Known() {
		return opening.Limits{}, from + " gives a movement but no limits: see --seal"
	}
	return m, from
}

// Propose picks among the seals held against the joint's line: the smallest
// that fits of the kind in place; where none does, the smallest of another
// kind, one that is not poured if there is one, since poured seals are for
// small movements. It returns the index in the trials, -1 where nothing fits,
// and whether the kind is another than the one in place.
func (g *Gap) Propose(c *opening.Choice) (best int, otherKind bool) {
	kind := ""
	if len(g.Seals) > 0 && g.Seals[0].Kind != inventory.KindOther {
		kind = g.Seals[0].Kind
	}
	if i := fitsOfKind(c, kind); i >= 0 {
		return i, false
	}
	if i := slices.IndexFunc(c.Trials, func(t opening.Trial) bool { return t.Fits && t.Seal.MaxIn > 0 }); i >= 0 {
		return i, kind != ""
	}
	return c.Best, kind != "" && c.Best >= 0
}

// fitsOfKind is the index of the smallest seal of a kind that fits; -1: none does.
func fitsOfKind(c *opening.Choice, kind string) int {
	return slices.IndexFunc(c.Trials, func(t opening.Trial) bool { return t.Fits && strings.EqualFold(SealKindOf(t.Seal.Kind), kind) })
}
