package part

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync/atomic"

	"halfsplit/internal/core/finding"
)

// Library finds a Type for what is printed on a part.
type Library struct {
	byName map[string][]*Type // by Name and Aka, upper case
	order  []*Type
	names  atomic.Pointer[[]string] // what Names gives, once it was asked for; Add throws it away
}

// Match is a part as fitted: its type and its electrical family.
type Match struct {
	Type   *Type
	Family Family
}

// Add puts types into the library. With replace, a type of the same name takes the place of the old one (a
// technician's own file wins over the built-in library); otherwise two records for one name and family are a finding.
func (l *Library) Add(ts []*Type, replace bool) finding.List {
	var fl finding.List
	l.names.Store(nil)
	for _, t := range ts {
		for _, n := range append([]string{t.Name}, t.Aka...) {
			key := strings.ToUpper(n)
			for _, old := range l.byName[key] {
				if !replace && overlap(old.Families, t.Families) {
					fl.Errorf(t.Pos, n, "", "part %s is described twice; the first is at %s", n, old.Pos)
				}
			}
			if replace {
				l.byName[key] = slices.DeleteFunc(slices.Clone(l.byName[key]), func(o *Type) bool { return overlap(o.Families, t.Families) })
			}
			l.byName[key] = append(l.byName[key], t)
		}
		l.order = append(l.order, t)
	}
	return fl
}

// Clone returns a library that can be added to without changing l.
func (l *Library) Clone() *Library {
	return &Library{byName: maps.Clone(l.byName), order: slices.Clone(l.order)}
}

// Types lists all records in the order they were read.
func (l *Library) Types() []*Type { return l.order }

func overlap(a, b []string) bool {
	return len(a) == 0 && len(b) == 0 || slices.ContainsFunc(a, func(s string) bool { return slices.Contains(b, s) })
}

// The letters before the number are the maker's, those after it package and speed: neither changes what the part does.
var marking = regexp.MustCompile(`^(?:SN|DM|MM|MC|HD|CD|HEF|TC|HCF|M|N|µPD|UPD|D|MSM|TMS|AM)?(54|74)([A-Z]*?)(\d{2,5})([A-Z]{0,3}\d?[A-Z]?)$`)
var cmosMarking = regexp.MustCompile(`^(?:CD|MC1|1|HEF|HCF|TC|MM|F|N|SCL|TP)?(4\d{3}|40\d{3}|45\d{2})(UB|B|A)?([A-Z]{0,3})$`)

// highSpeedCMOS are parts of the 4000 line that were made again in the fast families: 74HC4051.
var highSpeedCMOS = regexp.MustCompile(`^(?:SN|MM|MC|CD|TC|M)?(?:54|74)(HCT?)(4\d{3})([A-Z]{0,3}\d?[A-Z]?)$`)

// The letters around the array of programmable logic are maker, technology, speed and package: TIBPAL16L8-25CN, PAL16R4ACN, HAL16L8.
var arrayMarking = regexp.MustCompile(`^(?:TIB|AM|DM|MMI|N)?[PH]AL(\d{2}[HLCR]\d)(?:A|B|D|-\d{1,2}|-2|-4)*(?:[CM]?[NJ][LST]?|C|L|PC)?$`)
var cellMarking = regexp.MustCompile(`^(?:GAL|ATF|AM|TIB|TIC)?(?:PAL|PALCE|PALC)?(16V8|20V8|22V10)[A-Z]{0,2}(?:-\d{1,2})?[A-Z]{0,4}\d?$`)

// Find looks up what stands in `type:`, such as 74LS138, SN74LS138N, 4013, CD4013BE or resistor.
// The error names the nearest type the library has.
func (l *Library) Find(name string) (Match, error) {
	up := strings.ToUpper(strings.TrimSpace(name))
	if m := marking.FindStringSubmatch(up); m != nil {
		fam := m[2]
		if fam == "" {
			fam = "74"
		}
		if ts := l.byName["74X"+m[3]]; len(ts) > 0 {
			var known []string
			for _, t := range ts {
				if slices.Contains(t.Families, fam) {
					return Match{t, Family(fam)}, nil
				}
				known = append(known, t.Families...)
			}
			return Match{}, fmt.Errorf("the library has no %s in family %s; it has %s", "74x"+m[3], fam, strings.Join(known, ", "))
		}
	}
	if m := highSpeedCMOS.FindStringSubmatch(up); m != nil {
		for _, t := range l.byName[m[2]] {
			if slices.Contains(t.Families, m[1]) {
				return Match{t, Family(m[1])}, nil
			}
		}
	}
	for _, key := range []string{up, cmosKey(up), arrayKey(up)} {
		if ts := l.byName[key]; len(ts) > 0 {
			f := Family("")
			if len(ts[0].Families) > 0 {
				f = Family(ts[0].Families[0])
			}
			return Match{ts[0], f}, nil
		}
	}
	hint := finding.DidYouMean(name, l.sorted())
	if hint == "" {
		hint = "describe it in a parts file beside the board, or use an opaque type"
	}
	return Match{}, fmt.Errorf("unknown part type %s; %s", name, hint)
}

func cmosKey(up string) string {
	if m := cmosMarking.FindStringSubmatch(up); m != nil {
		return m[1]
	}
	return ""
}

func arrayKey(up string) string {
	if m := arrayMarking.FindStringSubmatch(up); m != nil {
		return "PAL" + m[1]
	}
	if m := cellMarking.FindStringSubmatch(up); m != nil {
		return "GAL" + m[1]
	}
	return ""
}

// Names lists what may stand in `type:`, 74-series parts with every family, sorted.
func (l *Library) Names() []string { return slices.Clone(l.sorted()) }

// sorted is Names, shared: a board that was imported asks for the nearest name of hundreds of types.
func (l *Library) sorted() []string {
	if n := l.names.Load(); n != nil {
		return *n
	}
	seen := map[string]bool{}
	for _, t := range l.order {
		for _, n := range append([]string{t.Name}, t.Aka...) {
			num, ok := strings.CutPrefix(n, "74x")
			if !ok {
				seen[n] = true
				continue
			}
			for _, f := range t.Families {
				seen["74"+strings.TrimPrefix(f, "74")+num] = true
			}
		}
	}
	out := slices.Sorted(maps.Keys(seen))
	l.names.Store(&out)
	return out
}

// Name is what would be printed on the part: 74LS138, 74HC4051, 4011, LM324.
func (m Match) Name() string {
	if num, ok := strings.CutPrefix(m.Type.Name, "74x"); ok {
		return "74" + strings.TrimPrefix(string(m.Family), "74") + num
	}
	if (m.Family == "HC" || m.Family == "HCT") && m.Type.Name[0] == '4' {
		return "74" + string(m.Family) + m.Type.Name
	}
	return m.Type.Name
}
