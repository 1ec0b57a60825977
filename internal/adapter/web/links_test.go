package web_test

import (
	"fmt"
	"html"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

var links = regexp.MustCompile(`href="(/[^"#]*)`)

// Every link on every page of a job leads somewhere: the pages are walked from the list until nothing new turns up.
func TestLinksLeadSomewhere(t *testing.T) {
	b := newBench(t)
	id := b.example("lift-panel/never-goes-up", true)
	b.symptom(id)
	supply := b.example("bench-supply/regulator-in-dropout", true)
	b.symptom(supply)
	p := newPage(t, b)
	seen := map[string]bool{"/jobs": true}
	queue := []string{"/jobs", fmt.Sprintf("/jobs/%d/probe", id), fmt.Sprintf("/jobs/%d/probe", supply), fmt.Sprintf("/jobs/%d/volts", supply)}
	looked := 0
	for len(queue) > 0 && looked < 400 {
		path := queue[0]
		queue = queue[1:]
		w := get(t, p.h, path)
		looked++
		if w.Code != http.StatusOK && w.Code != http.StatusSeeOther {
			t.Errorf("%s is answered with %d: %.120s", path, w.Code, w.Body)
			continue
		}
		if !strings.Contains(w.Header().Get("Content-Type"), "text/html") {
			continue
		}
		for _, m := range links.FindAllStringSubmatch(w.Body.String(), -1) {
			to := html.UnescapeString(m[1])
			first, _, _ := strings.Cut(to, "?")
			many := strings.HasPrefix(first, "/parts/") || strings.HasPrefix(first, "/boards/") || strings.Contains(first, "/substitute") // of a kind: some of each will do
			kind := first
			if many {
				kind = first[:strings.LastIndex(first, "/")+1] + fmt.Sprint(len(seen)%7)
			}
			if seen[kind] {
				continue
			}
			seen[kind] = true
			queue = append(queue, to)
		}
	}
	if looked < 60 {
		t.Errorf("only %d pages walked", looked)
	}
}
