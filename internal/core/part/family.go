package part

// Family is the electrical family of a part: 74 LS S ALS F HC HCT 4000 nmos cmos ttl, or "" for discrete parts.
type Family string

// Bipolar reports whether an open input of the family is heard as high and a fight of its outputs settles low.
func (f Family) Bipolar() bool {
	switch f {
	case "74", "LS", "S", "ALS", "F", "H", "L", "AS", "ttl":
		return true
	}
	return false
}

// Plain reports whether the family is the plain 74 series, whose fights read as a legal low.
func (f Family) Plain() bool { return f == "74" || f == "H" || f == "L" }

// Levels are the input and output limits at the nominal supply, in volts.
// Sources: Fairchild DS006613 (74), TI SDLS025B and Motorola LS data (LS), Fairchild DS006489 (S), Fairchild MM74HC02
// (HC, 4.5 V), MM74HCT00 (HCT), National TL/F/5939 (4000B at 5 V). ALS and F: from memory of TI SDAS and Fairchild F data books. NMOS memories: from memory of 2114 sheets.
type Levels struct {
	VIL, VIH     float64 // input low max, input high min
	VOLTyp, VOL  float64 // output low typical, maximum
	VOHTyp, VOH  float64 // output high typical, minimum; CMOS: unloaded
	FightLow     float64 // typical level of two outputs that fight
	OpenIn       float64 // level an open input floats to; 0 when it has none
	ShortCircuit float64 // output current into a short to 0 V, in amperes, typical
}

// Levels returns the limits of the family.
func (f Family) Levels() Levels {
	switch f {
	case "74", "H", "L", "ttl":
		return Levels{0.8, 2.0, 0.2, 0.4, 3.4, 2.4, 0.4, 1.5, 0.035}
	case "S", "AS", "F":
		return Levels{0.8, 2.0, 0.35, 0.5, 3.4, 2.7, 0.9, 1.5, 0.07}
	case "HC", "cmos":
		return Levels{1.35, 3.15, 0.05, 0.26, 4.9, 3.98, 2.2, 0, 0.04}
	case "HCT":
		return Levels{0.8, 2.0, 0.05, 0.26, 4.9, 3.98, 2.2, 0, 0.04}
	case "4000":
		return Levels{1.5, 3.5, 0.03, 0.05, 4.97, 4.95, 2.5, 0, 0.003}
	case "nmos":
		return Levels{0.8, 2.0, 0.25, 0.4, 3.4, 2.4, 1.2, 0, 0.01}
	}
	return Levels{0.8, 2.0, 0.25, 0.5, 3.4, 2.7, 0.85, 1.5, 0.03}
}
