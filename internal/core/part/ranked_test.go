package part

import (
	"bufio"
	"os"
	"regexp"
	"strings"
	"testing"
)

// The names of testdata/ranked-parts.txt that the library does not know, with the reason.
var unknownRanked = map[string]string{
	"75492":           "no source for its pins was found: the text of National's sheet gives the currents, its drawing is a picture",
	"2044":            "no source for its pins was found; the new SSI2144 has others, as its maker says",
	"74x624":          "no source for its pins was found: the texts of the sheets give the levels, their drawings are pictures",
	"2817":            "the first 2817 wants an outside programming supply, whose pin no source gives; 2817A and 28C17 are known",
	"2813":            "no source for its pins was found; the 3341 is known",
	"socket":          "a socket is `access: socketed` of the part that sits in it",
	"tempco":          "it is a resistor",
	"dual-transistor": "two npn or pnp parts; arrays such as CA3046 are known by their own names",
	"delay-line":      "each maker's taps come out elsewhere; an opaque package or an own record takes it",
}

// findRanked looks a name up as a board file would write it. A TTL type is found when it exists in any family.
func findRanked(lib *Library, name string) bool {
	number, ttl := strings.CutPrefix(name, "74x")
	if !ttl {
		_, err := lib.Find(name)
		return err == nil
	}
	for _, family := range []string{"", "LS", "S", "H", "HC"} {
		if _, err := lib.Find("74" + family + number); err == nil {
			return true
		}
	}
	return false
}

func TestLibraryKnowsTheRankedParts(t *testing.T) {
	lib, _ := Embedded()
	f, err := os.Open("testdata/ranked-parts.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	listed := map[string]bool{}
	rank := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		fields := strings.Fields(sc.Text())
		rank++
		if len(fields) < 2 {
			t.Fatalf("rank %d: no name: %q", rank, sc.Text())
		}
		for _, name := range fields[1:] {
			listed[name] = true
			why, excused := unknownRanked[name]
			switch found := findRanked(lib, name); {
			case !found && !excused:
				t.Errorf("rank %s: the library does not know %s", fields[0], name)
			case found && excused:
				t.Errorf("rank %s: the library knows %s, which is excused because %s", fields[0], name, why)
			}
		}
	}
	if rank != 289 || len(listed) < 400 {
		t.Errorf("the list has %d ranks and %d names", rank, len(listed))
	}
	for name := range unknownRanked {
		if !listed[name] {
			t.Errorf("%s is excused but not in the list", name)
		}
	}
	compareRanked(t, listed)
}

// compareRanked holds the list against the text it was taken from, where that lies beside the checkout: every number of
// three digits or more that stands there must stand in the list.
func compareRanked(t *testing.T, listed map[string]bool) {
	text, err := os.ReadFile("../../../../shared/trade/parts.md")
	if err != nil {
		t.Log("the ranking itself is not here; the list stands for it")
		return
	}
	line := regexp.MustCompile("(?m)^\\d+\\. `.` (.*?) –")
	number := regexp.MustCompile(`\d{3,}`)
	var all strings.Builder
	for name := range listed {
		all.WriteString(name + " ")
	}
	n := 0
	for _, m := range line.FindAllStringSubmatch(string(text), -1) {
		for _, num := range number.FindAllString(m[1], -1) {
			n++
			if num != "100" && num != "3300" && !strings.Contains(all.String(), num) {
				t.Errorf("%q: %s is not in testdata/ranked-parts.txt", m[1], num)
			}
		}
	}
	if n < 300 {
		t.Errorf("only %d numbers compared", n)
	}
}
