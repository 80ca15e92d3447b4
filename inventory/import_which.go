package inventory

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/uptrace/bun"

	"reseal/inventory/store"
	"reseal/inventory/table"
)

// The columns by which a row of a spreadsheet names its bridge and joint come
// first in every sheet, in this order.
const (
	whichBridge = iota
	whichState
	whichNumber
	whichTag
	whichLabel
	whichPlace
	whichSequence
)

// WhichBridge are the columns that name a bridge.
func WhichBridge() []table.Column {
	return []table.Column{
		whichBridge: {Name: "bridge", Help: "the structure number, or STATE/NUMBER where several states are on record", Example: "41/00576A"},
		whichState:  {Name: "state", Synonyms: []string{"state_code", "state_fips"}, Help: "two-digit FIPS code", Example: "41"},
		whichNumber: {Name: "structure_number", Synonyms: []string{"bridge_number", "bridge_no", "structure_no"}, Help: "instead of bridge", Example: "00576A"},
	}
}

// WhichJoint are the columns that name a joint.
func WhichJoint() []table.Column {
	return append(WhichBridge(),
		table.Column{Name: "tag", Synonyms: []string{"joint", "joint_tag", "joint_id"}, Help: "the joint's permanent tag, which reseal gives out; with it no bridge is needed", Example: "J000123"},
		table.Column{Name: "label", Synonyms: []string{"joint_label", "joint_name"}, Help: "the agency's own name of the joint, which only one joint of a bridge has", Example: "E abutment"},
		table.Column{Name: "place", Enum: Places, Help: "where on the bridge; with sequence it names a joint without a label", Example: "abutment"},
		table.Column{Name: "sequence", Kind: table.Int, Min: 1, Max: 999, Synonyms: []string{"order"}, Help: "order along the bridge with increasing milepost, from 1", Example: "1"},
	)
}

// whichJointBy are the groups of columns that can tell which joint a row is about.
var whichJointBy = [][]string{{"tag"}, {"bridge", "label"}, {"structure_number", "label"}, {"bridge", "place", "sequence"}, {"structure_number", "place", "sequence"}}

var whichBridgeBy = [][]string{{"bridge"}, {"structure_number"}}

// WhichJointBy is the AnyOf of a sheet whose rows are about joints.
func WhichJointBy() [][]string { return whichJointBy }

// ref is how a row names its bridge and joint.
type ref struct {
	state, number string
	bridgeColumn  int
	tag           string
	label         string
	place         string
	sequence      int
}

// bridgeRef reads the columns that name a bridge; number is empty where none do.
func bridgeRef(row *table.Row, state string) ref {
	r := ref{bridgeColumn: whichBridge, state: state}
	if s, ok := row.Text(whichState); ok {
		if len(s) == 1 {
			s = "0" + s // as a spreadsheet leaves it
		}
		r.state = s
	}
	if s, ok := row.Text(whichBridge); ok {
		own, number := SplitStructure(s)
		if r.number = number; own != "" {
			r.state = own
		}
	} else if s, ok := row.Text(whichNumber); ok {
		r.number, r.bridgeColumn = s, whichNumber
	}
	return r
}

func jointRef(row *table.Row) ref {
	r := bridgeRef(row, "")
	r.tag, _ = row.Text(whichTag)
	r.label, _ = row.Text(whichLabel)
	r.place, _ = row.Text(whichPlace)
	r.sequence, _ = row.Int(whichSequence)
	r.tag = strings.ToUpper(r.tag)
	return r
}

// Located is a joint on record with its bridge.
type Located struct {
	Joint  *Joint
	Bridge *Bridge
}

// LocateJoints finds the joint that each row of a batch is about. A row whose
// joint is not on record, or is not in service, gets a fault and a zero
// Located. Rows about one joint share it.
func LocateJoints(ctx context.Context, tx *store.Tx, rows []*table.Row) ([]Located, error) {
	refs := make([]ref, len(rows))
	for i, row := range rows {
		refs[i] = jointRef(row)
	}
	at := newAtlas()
	if err := at.load(ctx, tx, refs); err != nil {
		return nil, err
	}
	out := make([]Located, len(rows))
	for i, row := range rows {
		j, b := at.joint(row, refs[i])
		switch {
		case j == nil && !row.Bad():
			row.RefuseRow("the row does not say which joint it is about", "give its tag, or its bridge with a label, or with place and sequence")
		case j != nil && j.Status != InService:
			row.RefuseRow(fmt.Sprintf("joint %s is %s", j.Tag, j.Status), "leave the row out")
		case j != nil && !row.Bad():
			out[i] = Located{j, b}
		}
	}
	return out, nil
}

// atlas holds the bridges and joints that a batch of rows may be about.
type atlas struct {
	numbers map[string][]*Bridge // by structure number
	bridges map[int64]*Bridge
	tags    map[string]*Joint
	on      map[int64][]*Joint // by bridge
}

func newAtlas() *atlas {
	return &atlas{map[string][]*Bridge{}, map[int64]*Bridge{}, map[string]*Joint{}, map[int64][]*Joint{}}
}

// load fetches what refs name, in four queries whatever their number.
func (a *atlas) load(ctx context.Context, db bun.IDB, refs []ref) error {
	var numbers, tags []string
	for _, r := range refs {
		if r.number != "" && (len(numbers) == 0 || numbers[len(numbers)-1] != r.number) {
			numbers = append(numbers, r.number)
		}
		if r.tag != "" {
			tags = append(tags, r.tag)
		}
	}
	if len(numbers) > 0 {
		if err := a.scanBridges(ctx, db, numberedBridges, bun.List(numbers)); err != nil {
			return err
		}
	}
	if len(tags) > 0 {
		if err := a.loadJoints(ctx, db, "tag IN (?)", bun.List(tags)); err != nil {
			return err
		}
		var others []int64
		for _, j := range a.tags {
			if a.bridges[j.BridgeID] == nil {
				others = append(others, j.BridgeID)
			}
		}
		if len(others) > 0 {
			if err := a.scanBridges(ctx, db, "id IN (?)", bun.List(others)); err != nil {
				return err
			}
		}
	}
	var on []int64
	for _, r := range refs {
		if r.tag == "" {
			for _, b := range a.numbers[r.number] {
				if len(on) == 0 || on[len(on)-1] != b.ID {
					on = append(on, b.ID)
				}
			}
		}
	}
	if len(on) == 0 {
		return nil
	}
	return a.loadJoints(ctx, db, "bridge_id IN (?)", bun.List(on))
}

// numberedBridges finds bridges by their numbers alone through the index on
// state and number: it goes through the states on record one by one.
const numberedBridges = `state IN (
	WITH RECURSIVE s(x) AS (SELECT min(state) FROM bridges UNION ALL
		SELECT (SELECT min(state) FROM bridges WHERE state > x) FROM s WHERE x IS NOT NULL)
	SELECT x FROM s) AND structure_number IN (?)`

func (a *atlas) scanBridges(ctx context.Context, db bun.IDB, where string, in any) error {
	var found []*Bridge
	err := db.NewSelect().Model(&found).Where(where, in).Column("id", "geom", "state", "structure_number", "status", "year_built",
		"length_ft", "skew_deg", "skew_varies", "curb_width_ft", "out_width_ft", "bearing_deg", "lanes").Order("state").Scan(ctx)
	for _, b := range found {
		if a.bridges[b.ID] == nil {
			a.bridges[b.ID] = b
			a.numbers[b.StructureNumber] = append(a.numbers[b.StructureNumber], b)
		}
	}
	return err
}

func (a *atlas) loadJoints(ctx context.Context, db bun.IDB, where string, in any) error {
	var found []*Joint
	err := db.NewSelect().Model(&found).Where(where, in).Order("id").Scan(ctx)
	for _, j := range found {
		a.add(j)
	}
	return err
}

// add makes a joint known, once.
func (a *atlas) add(j *Joint) {
	if a.tags[j.Tag] == nil {
		a.tags[j.Tag] = j
		a.on[j.BridgeID] = append(a.on[j.BridgeID], j)
	}
}

// bridge finds the bridge that r names, or refuses the row.
func (a *atlas) bridge(row *table.Row, r ref) *Bridge {
	found := a.numbers[r.number]
	if r.state != "" {
		found = slices.DeleteFunc(slices.Clone(found), func(b *Bridge) bool { return b.State != r.state })
	}
	switch len(found) {
	case 1:
		return found[0]
	case 0:
		row.Refuse(r.bridgeColumn, "is not a bridge on record", "list them with: reseal bridge list --text "+word1(r.number))
	default:
		row.Refuse(r.bridgeColumn, "is a bridge in more than one state", fmt.Sprintf("write it with its state: %s/%s", found[0].State, r.number))
	}
	return nil
}

// word1 quotes a text with spaces for the shell.
func word1(s string) string {
	if strings.ContainsAny(s, " '$*?&;()") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// joint finds the joint that r names with its bridge; both are nil where the
// row gets a fault, and the joint is nil for one that is not on record by a
// place and sequence, or where r names none.
func (a *atlas) joint(row *table.Row, r ref) (*Joint, *Bridge) {
	if r.tag != "" {
		if j := a.tags[r.tag]; j != nil {
			return j, a.bridges[j.BridgeID]
		}
		if r.number == "" {
			row.Refuse(whichTag, "is not the tag of a joint on record", "list them with: reseal joint list")
			return nil, nil
		}
	}
	if r.number == "" {
		return nil, nil
	}
	b := a.bridge(row, r)
	if b == nil {
		return nil, nil
	}
	j := a.find(row, b, r)
	if j == nil && !row.Bad() {
		a.unknown(row, b, r)
	}
	return j, b
}

// unknown refuses a row about a joint that its bridge does not have.
func (a *atlas) unknown(row *table.Row, b *Bridge, r ref) {
	list := "list them with: reseal joint list --text " + word1(b.StructureNumber)
	of := fmt.Sprintf("a joint of bridge %s/%s", b.State, b.StructureNumber)
	switch {
	case r.tag != "":
		row.Refuse(whichTag, "is not "+of, list)
	case r.label != "":
		row.Refuse(whichLabel, "is not the label of "+of, list)
	case r.place != "" && r.sequence > 0:
		row.Refuse(whichSequence, "is not the sequence of "+of+" at that place", list)
	}
}

// find looks for the joint of a bridge that r names by its label, or else by
// place and sequence. A label that is new names the joint without a label at
// the same place and sequence. Proposals that were rejected, and quantities of
// the whole bridge, are no joints to be found so.
func (a *atlas) find(row *table.Row, b *Bridge, r ref) *Joint {
	var labelled, placed []*Joint
	label := r.label
	if label == "" {
		label = r.tag // a column "joint" may hold either
	}
	for _, j := range a.on[b.ID] {
		if j.Status == Rejected || j.Scope == ScopeQuantity && j.Label == "" {
			continue
		}
		if label != "" && strings.EqualFold(j.Label, label) {
			labelled = append(labelled, j)
		}
		if r.place != "" && r.sequence > 0 && j.Place == r.place && j.Sequence == r.sequence && (label == "" || j.Label == "") {
			placed = append(placed, j)
		}
	}
	found := labelled
	if len(found) == 0 {
		found = placed
	}
	if len(found) > 1 { // those that are gone do not count beside one that is there
		present := slices.DeleteFunc(slices.Clone(found), func(j *Joint) bool { return j.Status != InService && j.Status != Proposed })
		if len(present) > 0 {
			found = present
		}
	}
	switch {
	case len(found) == 0:
		return nil
	case len(found) > 1:
		tags := make([]string, len(found))
		for i, j := range found {
			tags[i] = j.Tag
		}
		row.RefuseRow(fmt.Sprintf("the row can be about any of the joints %s", strings.Join(tags, ", ")), "give the tag")
		return nil
	}
	return found[0]
}

// WhichCount is the number of columns of WhichJoint.
const WhichCount = whichSequence + 1

// SameCells tells whether two rows have the same text in their first columns
// and in the further ones named.
func SameCells(a, b *table.Row, first int, further ...int) bool {
	for c := range first {
		if a.Raw(c) != b.Raw(c) {
			return false
		}
	}
	return !slices.ContainsFunc(further, func(c int) bool { return a.Raw(c) != b.Raw(c) })
}
