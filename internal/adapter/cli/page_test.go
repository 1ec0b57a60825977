package cli

import (
	"strings"
	"testing"
	"unicode/utf8"
)

func TestWordsForNumbers(t *testing.T) {
	checked := 0
	check := func(got, want string) {
		t.Helper()
		checked++
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	check(percent(0), "0 %")
	check(percent(0.0004), "<1 %")
	check(percent(0.414), "41 %")
	check(percent(0.989), "99 %")
	check(percent(0.9951), ">99 %")
	check(percent(1), "100 %")
	check(minutes(0.3), "20 s")
	check(minutes(0.01), "5 s")
	check(minutes(1), "1 min")
	check(minutes(4.5), "4.5 min")
	check(minutes(31.2), "31 min")
	check(letters(0), "A")
	check(letters(25), "Z")
	check(letters(26), "AA")
	check(letters(53), "BB")
	check(letters(702), "AAA")
	check(plural(1, "part", "parts"), "1 part")
	check(plural(0, "part", "parts"), "0 parts")
	check(levels(strings.Split("110100111", "")), "11010011 1")
	check(flow(map[string]any{"to": "GND", "is": nil, "at": "U2.2"}), "{at: U2.2, to: GND, is: …}")
	check(strings.Join(entryLines([]map[string]any{{"read": map[string]any{"U1.4": nil}, "do": []string{"a", "b"}, "odd": 1}}), "|"),
		"- do: [a, b]|  read: {U1.4: …}|  odd: 1")
	if checked != 21 {
		t.Errorf("checked %d", checked)
	}
}

// Wrapped text keeps every word in order and stays within the width.
func TestParagraph(t *testing.T) {
	text := strings.Repeat("probe the pin of the part that holds the net ", 20)
	p := &page{}
	p.para("NEXT      ", text)
	var words []string
	for line := range strings.Lines(p.String()) {
		if n := utf8.RuneCountInString(strings.TrimSuffix(line, "\n")); n > width {
			t.Errorf("%d columns: %s", n, line)
		}
		words = append(words, strings.Fields(line)...)
	}
	if got, want := strings.Join(words, " "), "NEXT "+strings.TrimSpace(text); got != want {
		t.Errorf("got %s", got)
	}
}
