package job

// Work that a caution comes before.
const (
	Opening  = "opening"  // covers off, hands inside
	Powered  = "powered"  // anything with the power on
	Iron     = "iron"     // soldering, cutting, lifting
	Cleaning = "cleaning" // fluids, leaks, dust
)

// Caution is a hazard with what to do about it. Gate cautions must be ticked before the work in Before is proposed. The program defers to
// local law and to people trained for the work, and promises nothing.
type Caution struct {
	Name   string
	Title  string
	Hazard string // what can happen
	Do     string // what to do
	Unsure string // when to stop
	Source string
	Before []string
	Gate   bool
	when   func(*Intake) bool
}

// Cautions in the order in which they are met at the bench.
var Cautions = []Caution{
	{
		Name: "mains", Title: "Mains unplugged, dead proven", Gate: true, Before: []string{Opening, Powered, Iron, Cleaning},
		Hazard: "Mains voltage kills. A switch, a fuse or a variable transformer alone separates nothing.",
		Do:     "Pull the plug before you open or touch anything, then measure that it is dead. Work with covers off and power on only if you are competent to do so and local rules allow it: one hand, sleeved probes, no jewellery, residual-current protection on the bench.",
		Unsure: "If unsure, stop and hand it to a licensed person.", Source: "common practice; local wiring and product law decides",
		when: func(i *Intake) bool { return i.Mains },
	},
	{
		Name: "charge", Title: "Capacitors measured and discharged", Gate: true, Before: []string{Opening, Powered, Iron, Cleaning},
		Hazard: "A capacitor holds its charge long after the plug is out. Above 60 V DC treat it as live.",
		Do:     "Measure it. Discharge through a resistor, never with a screwdriver, wait the time that the resistor needs, and measure again.",
		Unsure: "If unsure, stop and ask a qualified person.", Source: "60 V DC as a touch limit: IEC 62368-1, class ES1 (from memory); check the local code",
		when: func(i *Intake) bool { return i.Mains || i.Tube },
	},
	{
		Name: "tube", Title: "Picture tube left alone", Gate: true, Before: []string{Opening, Powered, Iron, Cleaning},
		Hazard: "A picture tube and its supply keep 10 to 30 kV for days, and the glass can implode.",
		Do:     "Do not touch the tube, its cap or the supply around it.",
		Unsure: "Hand this part to somebody who is trained for it.", Source: "from memory",
		when: func(i *Intake) bool { return i.Tube },
	},
	{
		Name: "before-power", Title: "Looked over before the first power", Gate: true, Before: []string{Powered},
		Hazard: "After years on a shelf, noise-suppression capacitors smoke and reservoirs short minutes after the first power, in a unit that looked fine.",
		Do:     "Look and smell. Check suppression and reservoir capacitors, the fuse against its marking, and the voltage selector. Bring it up through a lamp limiter, a current-limited supply or in steps, and watch the current; stop if it is high at a low voltage. A switching supply dislikes a slow rise.",
		Unsure: "Replace mains-side parts only with ones of the same safety approval and rating.", Source: "common practice, no source",
		when: func(i *Intake) bool { return true },
	},
	{
		Name: "earth", Title: "Earth and insulation tested", Gate: true, Before: []string{Powered},
		Hazard: "A metal case without its earth becomes live at the first insulation fault.",
		Do:     "Class I: test the protective bond and the insulation before and after the work, and write both down. Never lift the earth to cure hum.",
		Unsure: "Limits come from the code that applies where you are; a competent person judges.", Source: "common practice; in-service test codes of the country",
		when: func(i *Intake) bool { return i.Mains },
	},
	{
		Name: "clip", Title: "Scope clip only on ground", Gate: true, Before: []string{Powered},
		Hazard: "The scope's ground clip is earth. On a live or floating point it makes a short through the scope and through you.",
		Do:     "Clip to the board's ground, and only when the unit is isolated from the mains. Sleeve the tips: a slipped probe makes the next fault. Shorted outputs one at a time, a second at most; never tie a TTL output to 5 V.",
		Unsure: "If the board's ground is not isolated from the mains, do not connect the scope.", Source: "common practice, no source",
		when: func(i *Intake) bool { return true },
	},
	{
		Name: "wet", Title: "Dry all through", Gate: true, Before: []string{Powered},
		Hazard: "Water under chips, in coils and in transformers leads where it should not, and eats copper while the power is on.",
		Do:     "Rinse off what the water left, then let it dry warm for days, not hours. Power only when nothing is damp.",
		Unsure: "Mains transformers that were under water: have their insulation tested first.", Source: "common practice, no source",
		when: func(i *Intake) bool { return i.zone("water") },
	},
	{
		Name: "cells", Title: "Battery seen to", Gate: true, Before: []string{Opening, Powered, Cleaning},
		Hazard: "Leaked nickel-cadmium and alkaline cells are caustic, cadmium is toxic; a lithium cell that is charged, shorted, heated or soldered can burst.",
		Do:     "Gloves and eye protection. If memory must survive, save it first or feed it from outside before the cell goes. Hand old cells in under local rules.",
		Unsure: "Do not neutralise what you have not identified.", Source: "common practice; local waste rules",
		when: func(i *Intake) bool { return i.Battery || i.zone("battery") },
	},
	{
		Name: "solder", Title: "Solder, fume, heat", Gate: true, Before: []string{Iron},
		Hazard: "Old joints hold lead. Rosin fume causes asthma. Cut legs fly. Regulators, lamps and irons burn.",
		Do:     "Extract the fume at its source, wash hands, no food at the bench, eyes covered when legs are cut.",
		Unsure: "Exposure limits are set locally.", Source: "HSE INDG248 for rosin fume",
		when: func(i *Intake) bool { return true },
	},
	{
		Name: "static", Title: "Strap on, power off", Gate: true, Before: []string{Iron},
		Hazard: "Static kills CMOS and NMOS parts without a spark, and a part pulled under power dies too.",
		Do:     "Power off and capacitors empty before a part goes in or out; wrist strap; parts in conductive foam.",
		Unsure: "", Source: "common practice, no source",
		when: func(i *Intake) bool { return true },
	},
	{
		Name: "fluids", Title: "Cleaning fluids", Gate: true, Before: []string{Cleaning},
		Hazard: "Alcohol and many sprays burn. Freezing spray frosts skin and takes the air of a closed room. Acid on the wrong leak does harm.",
		Do:     "Power off, window open, let it dry. A weak acid only on alkaline leaks, then rinse.",
		Unsure: "Read the maker's sheet of the fluid.", Source: "common practice, no source",
		when: func(i *Intake) bool { return i.zone("water") || i.zone("battery") || i.zone("animals") },
	},
	{
		Name: "old-matter", Title: "Old materials", Before: []string{Opening, Cleaning},
		Hazard: "Possible in old units: PCB oil in capacitors, selenium, beryllia under power parts, asbestos pads, mercury switches, mould and droppings.",
		Do:     "Mask for dust; do not cut or grind; label what you suspect and dispose of it under local rules.",
		Unsure: "Ask before you open what you do not know.", Source: "from memory",
		when: func(i *Intake) bool { return true },
	},
	{
		Name: "weight", Title: "Weight and edges", Before: []string{Opening},
		Hazard: "Heavy units tip and sheet metal cuts.",
		Do:     "Lift with two, stand it firmly, file or tape sharp edges.",
		Unsure: "", Source: "common practice, no source",
		when: func(i *Intake) bool { return true },
	},
}

func (i *Intake) zone(kind string) bool {
	for _, z := range i.Zones {
		if z.Kind == kind {
			return true
		}
	}
	return false
}

// CautionByName finds a caution, or nil.
func CautionByName(name string) *Caution {
	for i := range Cautions {
		if Cautions[i].Name == name {
			return &Cautions[i]
		}
	}
	return nil
}

// CautionsOf are the cautions that apply to this job, in order.
func (j *Job) CautionsOf() []Caution {
	var out []Caution
	for _, c := range Cautions {
		if c.when(&j.Intake) {
			out = append(out, c)
		}
	}
	return out
}

// OpenCautions are the gate cautions of this job that are not ticked and come before the given work; "" asks for every work.
func (j *Job) OpenCautions(work string) []Caution {
	var out []Caution
	for _, c := range j.CautionsOf() {
		if _, ticked := j.Ticks[c.Name]; c.Gate && !ticked && (work == "" || oneOf(c.Before, work)) {
			out = append(out, c)
		}
	}
	return out
}
