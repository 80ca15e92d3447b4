package sheet

import (
	"fmt"

	"reseal/condition/opening"
)

// Step is one step of the work. At a hold point, work stops until the person
// in charge has looked.
type Step struct {
	Text string
	Hold bool
}

// goNoGo is what must hold before a face is touched.
func goNoGo(s *Sheet, p Practice) []string {
	if s.Job.Work.Cleans() {
		return []string{"Deck above freezing until dry, so that no flushing water turns to ice on the road."}
	}
	least := p.InstallMinF
	if s.Job.Seal.InstallMinF > 0 {
		least = s.Job.Seal.InstallMinF
	}
	say := []string{
		fmt.Sprintf("Deck %.0f °F or more and rising.", least),
		"No rain expected until cured. Faces dry to the touch, no dew or frost.",
	}
	if s.Job.Months != "" {
		say = append(say, "Installed in "+s.Job.Months+"; in another month the engineer in charge agrees first.")
	}
	low, high := s.Job.Seal.InstallMinIn, s.Job.Seal.InstallMaxIn
	switch {
	case high > 0:
		say = append(say, fmt.Sprintf("Opening square to the joint %s to %s in, all along.", atLeast(low), atMost(high)))
	case low > 0:
		say = append(say, fmt.Sprintf("Opening square to the joint %s in or more, all along.", atLeast(low)))
	case s.Limits.Known():
		say = append(say, fmt.Sprintf("Opening square to the joint within %s to %s in.", atLeast(s.Limits.MinIn), atMost(s.Limits.MaxIn)))
	}
	return append(say, "The product's own data sheet takes precedence over each of these.")
}

// steps lists the work. Common practice, no source, unless said otherwise.
func steps(s *Sheet, p Practice) []Step {
	list := []Step{
		{"Close the lane to the approved traffic control plan. Brief the crew on cautions.", true},
		{"Measure opening and deck temperature at both curbs and the crown; write them below. Compare with the table.", true},
	}
	if s.Job.Work.Cleans() {
		return append(append(list, cleaningSteps()...), Step{"Clear the deck, open the lane.", false})
	}
	if s.Job.Work.Repairs() {
		return append(append(list, repairSteps(s)...), finish(s)...)
	}
	list = append(list, Step{"Take out the old seal and all debris. Sound the headers; mark what is loose.", false})
	if s.Job.HeaderRepairFt > 0 {
		list = append(list, Step{fmt.Sprintf("Repair %.1f ft of header; let it cure to its data sheet.", s.Job.HeaderRepairFt), true})
	}
	return append(append(list, installation(s, p)...), finish(s)...)
}

func finish(s *Sheet) []Step {
	return []Step{
		{fmt.Sprintf("Cure about %g h before traffic, or as the data sheet says.", s.Hours.CureHours), true},
		{"Measure and write down the as-built readings. Clear the deck, open the lane.", false},
	}
}

func installation(s *Sheet, p Practice) []Step {
	clean := Step{"Blast both faces to sound, bare material; blow clean with dry, oil-free air; wipe with an alcohol-based solvent, not oil-based.", true}
	bead := Inches(p.BeadIn)
	switch s.Job.Seal.Kind {
	case opening.Gland:
		return []Step{
			clean,
			{"Wipe the gland with the same solvent. Dry-fit; cut to length; splice outside wheel paths.", false},
			{"Prime: two-part epoxy 1:1 by volume, mixed about 30 s, one thin coat on both faces; about 15 min to set.", false},
			{fmt.Sprintf("Lay a %s in bead of adhesive on each face about 2 in below the surface, no more than 5 ft ahead of the gland.", bead), false},
			{"Fold the gland in, its top 1/2 in below the riding surface, straight.", true},
			{fmt.Sprintf("Lay a second %s in bead over each edge, up to the top of its ribbed edge and no higher; tool it free of air.", bead), false},
		}
	case opening.PouredSilicone, opening.PouredSealant:
		depth := min(max(p.PouredDepthShare*s.GapIn, 0.25), 0.5)
		return []Step{
			clean,
			{"Prime the faces if the data sheet asks for it.", false},
			{fmt.Sprintf("Press in backer rod, not stretched or torn, to leave %s in of sealant below the recess.", Inches(depth)), true},
			{"Pour from the low end without a break; both faces wetted; surface about 1/2 in below the riding surface.", false},
		}
	case opening.Compression:
		return []Step{
			clean,
			{"Coat faces and seal sides with lubricant-adhesive to its data sheet.", false},
			{"Press the seal in one piece, upright, not stretched (check its length), top about 1/4 in below the riding surface.", true},
		}
	case opening.StripSeal:
		return []Step{
			{"Clean the extrusions' cavities to bare metal; blow clean and dry. Look for loose anchors and section loss.", true},
			{"Coat the cavities with lubricant-adhesive to its data sheet.", false},
			{"Lock both edges of the gland in, in one piece; check that every foot is seated.", true},
		}
	case opening.ModularJoint:
		return []Step{
			{"Work to the engineer's procedure: jacking centre beams apart stores energy. No hands between beams.", true},
			{"Clean the cavities; coat with lubricant-adhesive to its data sheet.", false},
			{"Lock both edges of each gland in, in one piece; check that every foot is seated. Check springs, bearings and equal cells.", true},
		}
	case opening.Foam:
		return []Step{
			clean,
			{"Coat faces and foam sides with the adhesive of the data sheet.", false},
			{"Press the foam in while the adhesive is wet, top about 1/2 in below the riding surface; weld or bond splices.", true},
		}
	case opening.AsphaltPlug:
		return []Step{
			clean,
			{"Press backer rod into the gap; seal it with binder; centre the bridging plates over the gap.", true},
			{"Heat binder and aggregate to the data sheet, no hotter; place in layers, compact, level with the surface.", false},
		}
	default:
		return []Step{clean, {"Install to the product's own instructions.", true}}
	}
}

// cautions are kept short for the sheet; they refer to the rules that bind.
func cautions(s *Sheet) []string {
	say := []string{"These notes replace no local code, product instruction or decision of the engineer in charge. If they differ, stop and ask."}
	if t := s.Tapers; t.MergingFt > 0 {
		say = append(say, fmt.Sprintf(
			"Traffic: least merging taper %d ft (shifting %d, shoulder %d) at %.0f mph for a %g ft offset, by the MUTCD formula. The approved traffic control plan governs. Measure gaps from a closed lane only.",
			t.MergingFt, t.ShiftingFt, t.ShoulderFt, s.Job.SpeedMPH, s.Job.OffsetFt))
	} else {
		say = append(say, "Traffic: taper to the MUTCD by speed and offset (speed not on record). The approved traffic control plan governs. Measure gaps from a closed lane only.")
	}
	say = append(say,
		"Silica dust (29 CFR 1926.1153): sawing, chipping, blasting. Water or shroud and filter, respirator as measured; keep others clear.",
		"Solvents, primers, adhesives: flammable, sensitising. Read the data sheet; gloves, eye wash; no flame, no blasting near open solvent.",
		"Hands: never in a joint while traffic or temperature moves it. Plate or barricade an open joint before leaving it.",
		"Lead paint may be on old steel (29 CFR 1926.62): test before cutting or blasting.",
		"Falls: over water, road or rail, protection from 6 ft (29 CFR 1926.501). Nothing may drop below.",
		"Below deck may be a confined space (29 CFR 1926 Subpart AA): permit check before entry.")
	return say
}
