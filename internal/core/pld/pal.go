package pld

// The arrays of the PALs. The rows of an output follow one another from the top of the package down.

var (
	small12 = []int{2, 1, 3, 19, 4, 5, 6, 7, 8, 12, 9, 11}
	small14 = []int{2, 1, 3, 19, 4, 18, 5, 6, 7, 13, 8, 12, 9, 11}
	small16 = []int{2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11}
	medium  = []int{2, 1, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 11}                         // 16L8
	clocked = []int{2, 19, 3, 18, 4, 17, 5, 16, 6, 15, 7, 14, 8, 13, 9, 12}                        // 16R4, 16R6, 16R8
	wide    = []int{2, 1, 3, 23, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 14, 11, 13}         // 20L8
	wideClk = []int{2, 23, 3, 22, 4, 21, 5, 20, 6, 19, 7, 18, 8, 17, 9, 16, 10, 15, 11, 14}        // 20R4, 20R6, 20R8
	simple8 = []int{2, 1, 3, 19, 4, 18, 5, 17, 6, 14, 7, 13, 8, 12, 9, 11}                         // 16V8 in simple mode
	simple0 = []int{2, 1, 3, 23, 4, 22, 5, 21, 6, 20, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13}         // 20V8 in simple mode
	ten     = []int{1, 23, 2, 22, 3, 21, 4, 20, 5, 19, 6, 18, 7, 17, 8, 16, 9, 15, 10, 14, 11, 13} // 22V10
)

var pals = map[string]func() *device{
	"10H8": func() *device { return small([]int{2, 1, 3, 4, 5, 6, 7, 8, 9, 11}, 19, high, 2, 2, 2, 2, 2, 2, 2, 2) },
	"10L8": func() *device { return small([]int{2, 1, 3, 4, 5, 6, 7, 8, 9, 11}, 19, low, 2, 2, 2, 2, 2, 2, 2, 2) },
	"12H6": func() *device { return small(small12, 18, high, 4, 2, 2, 2, 2, 4) },
	"12L6": func() *device { return small(small12, 18, low, 4, 2, 2, 2, 2, 4) },
	"14H4": func() *device { return small(small14, 17, high, 4, 4, 4, 4) },
	"14L4": func() *device { return small(small14, 17, low, 4, 4, 4, 4) },
	"16H2": func() *device { return small(small16, 16, high, 8, 8) },
	"16L2": func() *device { return small(small16, 16, low, 8, 8) },
	"16C1": func() *device { // one sum on two pins, true and complement
		d := small(small16, 16, high, 16)
		d.outputs = append(d.outputs, output{pin: 15, end: 16, three: always, polarity: low})
		return d
	},
	"16L8": func() *device { return eight(medium, 19, 0, 0) },
	"16R4": func() *device { return eight(clocked, 19, 14, 17) },
	"16R6": func() *device { return eight(clocked, 19, 13, 18) },
	"16R8": func() *device { return eight(clocked, 19, 12, 19) },
	"20L8": func() *device { return eight(wide, 22, 0, 0) },
	"20R4": func() *device { return eight(wideClk, 22, 17, 20) },
	"20R6": func() *device { return eight(wideClk, 22, 16, 21) },
	"20R8": func() *device { return eight(wideClk, 22, 15, 22) },
}

// small is a PAL without feedback: outputs from pin top down, each with its number of terms, always on.
func small(columns []int, top int, p polarity, terms ...int) *device {
	d := &device{columns: columns, reset: -1, preset: -1}
	row := 0
	for i, n := range terms {
		d.outputs = append(d.outputs, output{pin: top - i, first: row, end: row + n, three: always, polarity: p})
		row += n
	}
	return d
}

// eight is a PAL of eight cells of eight rows from pin top down. Pins from to to have a register; each of the others gives its
// first row to its enable.
func eight(columns []int, top, from, to int) *device {
	d := &device{columns: columns, reset: -1, preset: -1}
	for i := range 8 {
		o := output{pin: top - i, first: 8*i + 1, end: 8*i + 8, three: 8 * i, polarity: low}
		if o.pin >= from && o.pin <= to {
			o.first, o.three, o.registered = 8*i, byPin, true
		}
		d.outputs = append(d.outputs, o)
	}
	if to > 0 {
		d.clock, d.enable = 1, columnsEnable(columns)
	}
	return d
}

// columnsEnable is the pin across the package from the last input: 11 of 20 pins, 13 of 24.
func columnsEnable(columns []int) int {
	if len(columns) > 16 {
		return 13
	}
	return 11
}
