package calc

// Backup batteries: how long a memory is kept, and what a failed charging path does.

import "math"

// cells are the usual backup cells: volts, share of charge lost per year, and the most that may be forced into a primary cell.
var cells = []struct {
	word        string
	volts, loss float64
	most        float64 // A, 0 when it may be charged
	low         float64 // volts of one cell when it counts as empty
}{
	{"lithium", 3.0, 0.01, 25e-3, 2.0}, // CR2032 class: 235 mAh, about 1 %/a, 25 mA abnormal charge (a maker's coin-cell guide)
	{"nicd", 1.2, 12 * 0.175, 0, 1.0},  // 15–20 %/month, common practice
	{"nimh", 1.2, 12 * 0.25, 0, 1.0},   // from memory: 20–30 %/month for the older kind
	{"alkaline", 1.5, 0.03, 0, 0.9},    // from memory: 2–3 %/a; may not be charged either
}

func batteryCalculators() []Calculator {
	words := []string{}
	for _, c := range cells {
		words = append(words, c.word)
	}
	return []Calculator{{
		Name: "battery", Title: "How long a backup battery keeps a memory", Formula: "life = capacity / (retention + leakage + capacity·self-discharge); memory volts = cells·volts − diode",
		Source: "CR2032: a maker's coin-cell guide (235 mAh, 1 %/a, 25 mA abnormal charge); NiCd 15–20 %/month: common practice; retention 2.0 V: Intersil HM-65162, DS2016",
		Range:  "currents of a few hundred µA at most; room temperature (self-discharge doubles with every 10 °C); lithium cells are limited by their shelf life of about 10 years",
		Inputs: []Input{{Name: "cell", Title: "Kind of cell", Words: words, Default: "lithium"}, {Name: "capacity", Title: "Capacity", Unit: "mAh", Default: "", Min: 0.36, Max: 3.6e6, Help: "in mAh: CR2032 235, three-cell NiCd pack 60"},
			{Name: "retention", Title: "Retention current of the memory", Unit: "A", Default: "", Min: 0, Max: 1, Help: "all chips together, from the data sheet"},
			{Name: "leakage", Title: "Leakage of capacitors and diodes", Unit: "A", Default: "0", Min: 0, Max: 1},
			may(Input{Name: "selfdischarge", Title: "Self-discharge", Unit: "%/a", Min: 0, Max: 100}, "of the capacity per year (17.5 %/month is understood); the kind's own when left out"),
			{Name: "cells", Title: "Cells in series", Default: "1", Min: 1, Max: 100}, volts("diode", "Drop of the isolating diode", 0, 2, "0.3"), volts("keep", "Voltage that keeps the memory", 0.5, 15, "2.0"),
			may(volts("rail", "Rail that could charge it", 1, 100, ""), "with series: the current through a shorted blocking diode"), may(ohms("series", "Resistor in the charging path", ""), "")},
		Run: battery,
	}}
}

func battery(n map[string]float64, w map[string]string) (Result, error) {
	var r Result
	kind := cells[0]
	for _, c := range cells {
		if c.word == w["cell"] {
			kind = c
		}
	}
	loss, ok := n["selfdischarge"]
	if !ok {
		loss = kind.loss
	}
	q := n["capacity"]
	self := q * loss / year
	total := n["retention"] + n["leakage"] + self
	if total == 0 {
		return r, wrong("retention", "with no current at all there is nothing to compute")
	}
	life := q / total
	r.add(line("self", "Self-discharge as a current", self, "A", "%s · %s", show(q, "mAh"), show(loss, "%/a")),
		line("total", "Total current", total, "A", "%s + %s + %s", show(n["retention"], "A"), show(n["leakage"], "A"), show(self, "A")),
		line("life", "Life", life, "s", "%s / %s", show(q, "mAh"), show(total, "A")))
	if n["retention"]+n["leakage"] > 0 {
		r.add(line("ideal", "Without self-discharge", q/(n["retention"]+n["leakage"]), "s", "%s / %s", show(q, "mAh"), show(n["retention"]+n["leakage"], "A")))
	}
	fresh, empty := n["cells"]*kind.volts-n["diode"], n["cells"]*kind.low-n["diode"]
	r.add(line("memory", "At the memory, fresh", fresh, "V", "%s · %s − %s", digits(n["cells"]), show(kind.volts, "V"), show(n["diode"], "V")))
	switch {
	case fresh < n["keep"]:
		r.warn("%s at the memory is below the %s that keeps it, even from a fresh cell", show(fresh, "V"), show(n["keep"], "V"))
	case empty < n["keep"]:
		r.warn("the memory is lost before the cell is empty: at the end it gets %s, and it needs %s", show(empty, "V"), show(n["keep"], "V"))
	}
	if kind.word == "lithium" && life > 10*year {
		r.warn("more than the shelf life of a lithium cell: plan to replace it after 10 years")
	}
	if total > 3e-3 && kind.word == "lithium" {
		r.warn("a coin cell gives 3 to 4 mA at most, and far less of its capacity at such a current")
	}
	if self > n["retention"]+n["leakage"] {
		r.warn("self-discharge takes more than the memory does")
	}
	if rail, ok := n["rail"]; ok {
		series, have := n["series"]
		if !have {
			return r, wrong("series", "give the resistor in the charging path too")
		}
		i := math.Max(0, rail-n["cells"]*kind.volts) / series
		r.add(line("charge", "Charging current if the diode is shorted", i, "A", "(%s − %s) / %s", show(rail, "V"), show(n["cells"]*kind.volts, "V"), show(series, "Ω")))
		if kind.most > 0 && i > kind.most {
			r.caution("%s would be forced into a lithium cell; its maker allows %s in a fault: two diodes in series, or a larger resistor", show(i, "A"), show(kind.most, "A"))
		}
		if kind.word == "nicd" || kind.word == "nimh" {
			trickle := q / 3600 / 20 // C/20
			if i > trickle {
				r.warn("%s is more than a trickle charge of C/20 = %s (from memory)", show(i, "A"), show(trickle, "A"))
			}
		}
	}
	if kind.word == "lithium" || kind.word == "alkaline" {
		r.caution("a primary cell must never be charged: remove the old charging resistor")
	}
	return r, nil
}
