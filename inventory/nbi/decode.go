package nbi

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"

	"github.com/paulmach/orb"

	"reseal/geo"
)

const (
	milesPerKm = 1000 * geo.FeetPerMetre / 5280
	// noDetourKm is coded for a detour of that or more, and for none at all.
	noDetourKm = 199
	// pivotYear is where a year of two digits turns over: 70 to 99 are 19xx, 00
	// to 69 are 20xx. Inspections under the national standards began in 1971.
	pivotYear = 70

	americanSamoa, guam, northernMarianas = "60", "66", "69"
)

// decoder turns lines into records and keeps what can be used again. All the
// texts of a record are parts of one string, so a row costs one allocation.
type decoder struct {
	table
	rec   Record
	row   fields
	text  []byte
	spans []span
}

// span says which part of the text belongs to which field of the record.
type span struct {
	to       *string
	from, at int
}

func (d *decoder) decode(line []byte, n int) Record {
	d.rec = Record{Line: n}
	d.text, d.spans = d.text[:0], d.spans[:0]
	d.split(line)
	d.identity()
	d.route()
	d.place()
	d.traffic()
	d.structure()
	d.inspection()
	all := string(d.text)
	for _, s := range d.spans {
		*s.to = all[s.from:s.at]
	}
	d.position()
	return d.rec
}

// position places the record by its texts, so after those are there.
func (d *decoder) position() {
	r := &d.rec
	if d.names[itemLat] == "" || d.names[itemLon] == "" {
		return
	}
	lat, latErr := geo.ParsePackedLat(r.LatText)
	lon, lonErr := geo.ParsePackedLon(r.LonText)
	if latErr != nil {
		d.problem(itemLat, errors.Unwrap(latErr).Error())
	}
	if lonErr != nil {
		d.problem(itemLon, errors.Unwrap(lonErr).Error())
	}
	if latErr != nil || lonErr != nil {
		return
	}
	// The guide writes no signs: west and north, but for three territories.
	switch r.State {
	case guam, northernMarianas:
	case americanSamoa:
		lat, lon = -lat, -lon
	default:
		lon = -lon
	}
	r.Position, r.Placed = orb.Point{lon, lat}, true
}

// split cuts the line and leaves blank what a wrong number of fields makes
// unsure.
func (d *decoder) split(line []byte) {
	want := len(d.columns)
	d.row = fields{}
	got := d.table.split(line, false, &d.row)
	if got == want {
		return
	}
	if got < want {
		d.problem(notRead, fmt.Sprintf("the row ends after %d of %d fields", got, want))
		return
	}
	d.row = fields{}
	if d.table.split(line, true, &d.row) == want {
		return
	}
	d.row = fields{}
	d.table.split(line, false, &d.row)
	if len(bytes.Trim(line[len(line)-(got-want):], string(d.delim))) == 0 {
		return // only empty fields at the end
	}
	d.problem(notRead, fmt.Sprintf("the row has %d fields, not %d: a text holds the delimiter, and what follows it is left out", got, want))
	for _, it := range d.columns[d.table.text:] {
		if it != notRead {
			d.row[it] = nil
		}
	}
}

func (d *decoder) identity() {
	r := &d.rec
	d.keepText(&r.StructureNumber, itemStructure)
	if len(bytes.TrimSpace(d.row[itemStructure])) == 0 {
		d.refuse(itemStructure, "the row has no structure number")
	}
	// Older files add the digit of the federal region to the state's code.
	code := bytes.TrimSpace(d.row[itemState])
	fips := code
	if len(code) == 3 {
		fips = code[:2]
	}
	if n, ok := digits(fips); ok && len(fips) <= 2 && states[n] {
		d.keepPadded(&r.State, fips, 2)
	} else {
		d.refuse(itemState, "is not the FIPS code of a state")
	}
	kind := bytes.TrimSpace(d.row[itemRecordType])
	r.RouteOn = len(kind) == 0 || string(kind) == "1"
}

// route puts item 5 together: "I 5", "US 101", "State 922 spur".
func (d *decoder) route() {
	r := &d.rec
	number := bytes.TrimSpace(d.row[itemRoute])
	if n, ok := digits(number); ok && n > 0 {
		number = bytes.TrimLeft(number, "0")
	} else if ok {
		number = nil // all zeros: the route has no number
	}
	prefix, level := word(d, itemPrefix, routePrefixes[:]), word(d, itemLevel, routeLevels[:])
	if len(number) > 0 {
		from := len(d.text)
		d.text = append(d.text, prefix...)
		d.appendText(number)
		d.text = append(d.text, level...)
		d.spans = append(d.spans, span{&r.Route, from, len(d.text)})
	}
	r.RouteDirection = word(d, itemDirection, directions[:])
	r.BearingDeg = NotRecorded
	for i, direction := range directions[1:] {
		if r.RouteDirection == direction {
			r.BearingDeg = 90 * i
		}
	}
	var km float64
	if km, r.HasMilepost = d.metric(itemKilopoint, 7, 3); r.HasMilepost {
		r.MilepostMi = km * milesPerKm
	}
}

func (d *decoder) place() {
	r := &d.rec
	d.keepPadded(&r.District, bytes.TrimSpace(d.row[itemDistrict]), 2)
	d.keepPadded(&r.County, bytes.TrimSpace(d.row[itemCounty]), 3)
	if code := d.whole(itemOwner, 99); code != NotRecorded {
		if r.Owner = owners[code]; r.Owner == "" {
			d.problem(itemOwner, "is not an owner's code")
		}
	}
	d.keepText(&r.FeatureIntersected, itemFeature)
	d.keepText(&r.FacilityCarried, itemFacility)
	d.keepText(&r.Location, itemLocation)
	d.keepText(&r.LatText, itemLat)
	d.keepText(&r.LonText, itemLon)
}

func (d *decoder) traffic() {
	r := &d.rec
	r.DetourMi = NotRecorded
	if km := d.whole(itemDetour, 999); km != NotRecorded {
		r.DetourMi = float64(min(km, noDetourKm)) * milesPerKm
	}
	r.LanesOn = max(0, d.whole(itemLanes, 99))
	r.ADT = d.whole(itemADT, 999999)
	r.ADTYear = d.year(itemADTYear)
	r.TruckPct = d.whole(itemTrucks, 100)
	r.TrafficDirection = word(d, itemTrafficDirection, trafficDirections[:])
	r.NHS = d.whole(itemNHS, 9) == 1
}

func (d *decoder) structure() {
	r := &d.rec
	r.YearBuilt, r.YearReconstructed = d.year(itemBuilt), d.year(itemReconstructed)
	if r.SkewDeg = d.whole(itemSkew, 99); r.SkewDeg == 99 {
		r.SkewVaries, r.SkewDeg = true, NotRecorded
	} else if r.SkewDeg >= 90 {
		d.problem(itemSkew, "is not a skew from 0 to 89 degrees")
		r.SkewDeg = NotRecorded
	}
	r.Material = word(d, itemMaterial, materials[:])
	if code := d.row[itemMaterial]; r.Material != "" {
		switch code[len(code)-1] {
		case '2', '4', '6':
			r.Continuous = true
		}
	}
	r.Design = word(d, itemDesign, designs[:])
	r.DesignCode = NotRecorded
	if r.Design != "" {
		r.DesignCode, _ = digits(bytes.TrimSpace(d.row[itemDesign]))
	}
	r.MainSpans = max(0, d.whole(itemMainSpans, 999))
	r.ApproachSpans = max(0, d.whole(itemApproachSpans, 9999))
	r.MaxSpanFt = d.feet(itemMaxSpan, 5)
	r.LengthFt = d.feet(itemLength, 6)
	r.CurbWidthFt = d.feet(itemCurbWidth, 4)
	r.OutWidthFt = d.feet(itemOutWidth, 4)
	r.ServiceOn = word(d, itemServiceOn, servicesOn[:])
	r.ServiceUnder = word(d, itemServiceUnder, servicesUnder[:])
	// 99.99 m is coded where nothing limits the height.
	if m, _ := d.metric(itemClearUnder, 4, 2); m < 99.9 {
		r.ClearUnderFt = m * geo.FeetPerMetre
	}
}

func (d *decoder) inspection() {
	r := &d.rec
	r.DeckRating = d.whole(itemDeck, 9)
	r.SuperstructureRating = d.whole(itemSuperstructure, 9)
	r.SubstructureRating = d.whole(itemSubstructure, 9)
	r.JointsRating = d.whole(itemJoints, 9)
	r.InspectionMonths = max(0, d.whole(itemMonths, 99))
	switch twin := bytes.TrimSpace(d.row[itemTwin]); string(twin) {
	case "L":
		r.Twin = "left"
	case "R":
		r.Twin = "right"
	case "", "N":
	default:
		d.problem(itemTwin, "is not L, R or N")
	}
	if mmyy := d.whole(itemInspected, 9999); mmyy > 0 {
		month, year := mmyy/100, 2000+mmyy%100
		if year >= 2000+pivotYear {
			year -= 100
		}
		if month < 1 || month > 12 {
			d.problem(itemInspected, "is not a month and year (MMYY)")
			return
		}
		from := len(d.text)
		d.text = strconv.AppendInt(d.text, int64(year), 10)
		d.text = append(d.text, '-', byte('0'+month/10), byte('0'+month%10))
		d.spans = append(d.spans, span{&r.InspectionMonth, from, len(d.text)})
	}
}

func (d *decoder) problem(it item, what string) {
	p := Problem{Problem: what}
	if it != notRead {
		p.Column, p.Value = d.names[it], string(appendUTF8(nil, d.row[it]))
	}
	d.rec.Problems = append(d.rec.Problems, p)
}

func (d *decoder) refuse(it item, what string) {
	d.problem(it, what)
	d.rec.Problems[len(d.rec.Problems)-1].Refuse = true
}
