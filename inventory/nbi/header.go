package nbi

import (
	"bytes"
	"fmt"
	"strings"
)

// item is a column that is read, as an index.
type item int

const (
	itemState item = iota
	itemStructure
	itemRecordType
	itemPrefix
	itemLevel
	itemRoute
	itemDirection
	itemDistrict
	itemCounty
	itemFeature
	itemFacility
	itemLocation
	itemKilopoint
	itemLat
	itemLon
	itemDetour
	itemOwner
	itemBuilt
	itemLanes
	itemADT
	itemADTYear
	itemSkew
	itemServiceOn
	itemServiceUnder
	itemMaterial
	itemDesign
	itemMainSpans
	itemApproachSpans
	itemMaxSpan
	itemLength
	itemCurbWidth
	itemOutWidth
	itemClearUnder
	itemDeck
	itemSuperstructure
	itemSubstructure
	itemJoints
	itemInspected
	itemMonths
	itemTwin
	itemTrafficDirection
	itemNHS
	itemReconstructed
	itemTrucks
	numItems
	notRead item = -1
)

// itemNumbers are the ends of the columns' names, in the order of the items.
var itemNumbers = [numItems]string{
	"001", "008", "005A", "005B", "005C", "005D", "005E", "002", "003",
	"006A", "007", "009", "011", "016", "017", "019", "022", "027", "028A",
	"029", "030", "034", "042A", "042B", "043A", "043B", "045", "046", "048",
	"049", "051", "052", "054B", "058", "059", "060", "BC08", "090", "091",
	"101", "102", "104", "106", "109",
}

// table says how the rows of one file are laid out.
type table struct {
	delim   byte
	columns []item           // by place in the row
	names   [numItems]string // as the header gives them, for problems
	text    int              // place of the first free text: a stray delimiter can only shift what follows
}

// readHeader reads the first line of a file.
func readHeader(line []byte) (table, error) {
	line = bytes.TrimPrefix(line, []byte("\xef\xbb\xbf"))
	switch {
	case len(bytes.TrimSpace(line)) == 0:
		return table{}, fmt.Errorf("%w: the first line is empty, and the header with the columns' names must stand there", ErrNotInventory)
	case bytes.HasPrefix(line, []byte("PK")):
		return table{}, fmt.Errorf("%w: this is a zip archive; unpack it and give the text file in it", ErrNotInventory)
	case bytes.HasPrefix(line, []byte("\xff\xfe")) || bytes.HasPrefix(line, []byte("\xfe\xff")):
		return table{}, fmt.Errorf("%w: this is UTF-16 text; save it as UTF-8", ErrNotInventory)
	}
	t := table{delim: delimiter(line)}
	for _, name := range strings.Split(string(line), string(t.delim)) {
		name = strings.Trim(strings.TrimSpace(name), `'"`)
		it := itemNamed(name)
		if it != notRead {
			if t.names[it] != "" {
				return table{}, fmt.Errorf("%w: columns %s and %s are both item %s; keep one", ErrNotInventory, t.names[it], name, itemNumbers[it])
			}
			t.names[it] = name
		}
		t.columns = append(t.columns, it)
	}
	for _, it := range []item{itemState, itemStructure} {
		if t.names[it] == "" {
			return table{}, fmt.Errorf("%w: line 1 has no column whose name ends in _%s (STATE_CODE_001 and STRUCTURE_NUMBER_008 are needed)", ErrNotInventory, itemNumbers[it])
		}
	}
	t.text = len(t.columns)
	for i, it := range t.columns {
		if it == itemFeature || it == itemFacility || it == itemLocation {
			t.text = i
			break
		}
	}
	return t, nil
}

// itemNamed returns the item whose number ends the column's name.
func itemNamed(name string) item {
	name = strings.ToUpper(strings.ReplaceAll(name, ".", ""))
	name = name[strings.LastIndexByte(name, '_')+1:]
	for i, number := range itemNumbers {
		if name == number {
			return item(i)
		}
	}
	return notRead
}

// delimiter returns the character that parts the names of a header.
func delimiter(header []byte) byte {
	best, most := byte(','), 0
	for _, c := range []byte(",\t;|") {
		if n := bytes.Count(header, []byte{c}); n > most {
			best, most = c, n
		}
	}
	return best
}
