package opening

import "fmt"

// Catalogue returns the built-in table of generic seals. Rows come from
// published agency tables, or from memory of them, as each row's Source says,
// or are Illustrative. It is a start: an agency's own approved list replaces
// it.
func Catalogue() []Seal {
	const silicone = "; installation at 40 °F and rising: common practice, no source"
	rows := []Seal{
		{
			Kind: PouredSilicone, Size: "width of the opening", OpenShare: 1, CloseShare: 0.5, SkewMaxDeg: 30, InstallMinF: 40,
			Source: "Idaho Bridge Design Manual, section 14: +100 %/−50 % of width at installation, skew under 30°" + silicone,
		},
		{
			Kind: PouredSealant, Size: "width of the opening", MovementShare: 1.0 / 6, InstallMinF: 40,
			Source: "AASHTO LRFD 14.5.6.5, from memory: width at least 6 times the movement" + silicone,
		},
		{
			Kind: AsphaltPlug, Size: "1 in movement", MovementIn: 1, InstallMinF: 45,
			Source: "about 1 in of movement in all, abstract of a New England study; 45 °F and dry from memory",
		},
	}
	rows = append(rows, glands(silicone)...)
	for width := 2.0; width <= 4; width += 0.5 {
		rows = append(rows, Seal{
			Kind: Compression, Size: fmt.Sprintf("%g in wide", width), WidthIn: width,
			MinIn: 0.40 * width, MaxIn: 0.85 * width, RackingIn: 0.22 * width, SkewMaxDeg: 30, InstallMinF: 40,
			Source: "0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; " +
				"width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14" + silicone,
		})
	}
	for width := 1.0; width <= 4; width++ {
		rows = append(rows, Seal{
			Kind: Foam, Size: fmt.Sprintf("%g in wide", width), WidthIn: width,
			MinIn: 0.4 * width, MaxIn: width, InstallMinF: 40, Illustrative: true,
			Source: "always in compression, New Hampshire DOT Design Memo 2018-02; the 40 % least width is illustrative" + silicone,
		})
	}
	for _, size := range []float64{3, 4, 5} {
		rows = append(rows, Seal{
			Kind: StripSeal, Size: fmt.Sprintf("%g in", size), MaxIn: size, InstallMinIn: 1.5, InstallMinF: 40,
			Source: "1½ in to install a gland, WSDOT design memo 11-2008; closes fully, size is the largest opening, from memory" + silicone,
		})
	}
	for cells := 2; cells <= 8; cells++ {
		size := 3 * float64(cells)
		rows = append(rows, Seal{
			Kind: ModularJoint, Size: fmt.Sprintf("%d cells of 3 in", cells), MaxIn: size,
			Cells: cells, InstallMinIn: 1.5 * float64(cells),
			Source: "AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory",
		})
	}
	return rows
}

// glands are the rows of the Missouri table of preformed silicone and EPDM
// glands: openings square to the joint at the road surface.
func glands(note string) []Seal {
	rows := []Seal{
		{Size: "1½ in movement", MinIn: 0.5, MaxIn: 2, InstallMinIn: 1, InstallMaxIn: 2, RackingIn: 0.225},
		{Size: "2¼ in movement", MinIn: 0.75, MaxIn: 3, InstallMinIn: 1.25, InstallMaxIn: 3, RackingIn: 0.34},
		{Size: "3 in movement", MinIn: 0.625, MaxIn: 3.625, InstallMinIn: 1.5, InstallMaxIn: 3.5, RackingIn: 0.45},
		{Size: "4 in movement", MinIn: 1, MaxIn: 5, InstallMinIn: 2.5, InstallMaxIn: 4, RackingIn: 0.60},
	}
	for i := range rows {
		rows[i].Kind, rows[i].SkewMaxDeg, rows[i].InstallMinF = Gland, 45, 40
		rows[i].Source = "Missouri DOT table of preformed silicone and EPDM glands: skew to 45°, racking 15 % of movement" + note
	}
	return rows
}
