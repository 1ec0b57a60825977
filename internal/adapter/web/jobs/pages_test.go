package jobs

// What every page must keep to, read from its HTML: a key and a place for mistakes in every form, a name for every field, no styles or
// scripts in the page itself.

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"halfsplit/internal/core/job"
)

func attr(n *html.Node, name string) (string, bool) {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val, true
		}
	}
	return "", false
}

func TestEveryPageKeepsTheRules(t *testing.T) {
	s := newShop(t)
	empty := s.page("/jobs")
	for _, want := range []string{"Nothing on the bench yet", `action="/jobs/example"`, `href="/jobs/new"`} {
		if !strings.Contains(empty, want) {
			t.Errorf("the empty list has no %q", want)
		}
	}
	id := s.take()
	s.record(id, &job.Tick{Caution: "mains"}, &job.Note{Text: "<script>alert(1)</script>", Stage: "opened"}, &job.Entry{Replaced: []string{"U1"}}, &job.Used{Ref: "C1", Type: "x", Count: 1},
		&job.Cost{Text: "y", Amount: 5}, &job.Quote{Median: 1, High: 2}, &job.Terms{Rate: 1, Limit: 1}, &job.Timer{Stage: "clean"}, &job.StateMark{State: job.Waiting, Reason: "parts"},
		&job.StageMark{Stage: "controls", Mark: job.NotNeeded, Reason: "none"}, &job.StageMark{Stage: "opened", Mark: job.Done})
	for _, stage := range stagePages {
		s.record(id, &job.Proof{Stage: stage, What: "a test of " + stage, Failed: stage == "proof"})
	}
	photo := s.photo(id, "opened")
	s.record(id, &job.Photo{ID: photo, W: 8, H: 6, Stage: "opened", Caption: "inside", Spots: []job.Spot{{X: 0.5, Y: 0.5, Text: "crack", Part: "U1"}}})
	paths := []string{"/jobs", "/jobs?q=box&state=waiting", "/jobs?q=nothing+of+that", "/jobs/new", "/shop", "/shop?saved=1", s.path(id, ""), s.path(id, "intake"), s.path(id, "safety"),
		s.path(id, "terms"), s.path(id, photoPath(photo)), s.path(id, photoPath(photo)) + "?at640.x=320&at640.y=240"}
	for _, stage := range stagePages {
		paths = append(paths, s.path(id, stage))
	}
	last := s.view(id).Job.Proofs
	paths = append(paths, s.path(id, "proof")+"?edit="+itoa(last[slices.IndexFunc(last, func(p job.ProofLine) bool { return p.Stage == "proof" })].Seq))
	forms, fields := 0, 0
	for _, path := range paths {
		f, n := rules(t, path, s.page(path))
		forms, fields = forms+f, fields+n
	}
	if len(paths) != 25 || forms < 110 || fields < 250 {
		t.Errorf("%d pages, %d forms, %d fields", len(paths), forms, fields)
	}
	for _, path := range []string{"/jobs/99", "/jobs/x", "/jobs/99/intake", "/jobs/99/soak", s.path(id, "photos/99"), "/photos/99", "/photos/x/small"} {
		if w := s.get(path); w.Code != http.StatusNotFound {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
}

// rules walks one page and counts its forms and fields.
func rules(t *testing.T, path, text string) (forms, fields int) {
	t.Helper()
	root, err := html.Parse(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	ids := map[string]bool{}
	headings := 0
	var walk func(n *html.Node, labelled bool)
	walk = func(n *html.Node, labelled bool) {
		if n.Type == html.ElementNode {
			for _, a := range n.Attr {
				if a.Key == "style" || strings.HasPrefix(a.Key, "on") || strings.HasPrefix(a.Val, "javascript:") {
					t.Errorf("%s: <%s %s=%q>", path, n.Data, a.Key, a.Val)
				}
			}
			if v, ok := attr(n, "id"); ok {
				if ids[v] {
					t.Errorf("%s: id %q is there twice", path, v)
				}
				ids[v] = true
			}
			switch n.Data {
			case "style":
				t.Errorf("%s: a style in the page", path)
			case "script":
				if _, ok := attr(n, "src"); !ok {
					t.Errorf("%s: a script in the page", path)
				}
			case "h1":
				headings++
			case "label":
				labelled = true
			case "form":
				forms++
				checkForm(t, path, n)
			case "input", "select", "textarea":
				fields++
				kind, _ := attr(n, "type")
				_, aria := attr(n, "aria-label")
				_, alt := attr(n, "alt")
				if kind != "hidden" && !labelled && !aria && !(kind == "image" && alt) {
					name, _ := attr(n, "name")
					t.Errorf("%s: the field %q has no label", path, name)
				}
			}
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c, labelled)
		}
	}
	walk(root, false)
	if job := strings.HasPrefix(path, "/jobs/") && path != "/jobs/new"; headings != 1 && !(job && headings == 2) {
		t.Errorf("%s: %d headings of the first level", path, headings)
	}
	return forms, fields
}

func checkForm(t *testing.T, path string, form *html.Node) {
	t.Helper()
	key, place := false, false
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if name, _ := attr(n, "name"); n.Data == "input" && name == "key" {
			v, _ := attr(n, "value")
			key = len(v) >= 12
		}
		if class, _ := attr(n, "class"); class == "form-error" {
			role, _ := attr(n, "role")
			place = role == "alert"
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(form)
	method, _ := attr(form, "method")
	action, _ := attr(form, "action")
	if !place || method == "post" && !key || method != "post" && method != "get" || action == "" {
		t.Errorf("%s: the form %s %s has a key: %v, a place for mistakes: %v", path, method, action, key, place)
	}
}

func TestTheListFinds(t *testing.T) {
	s := newShop(t)
	id := s.take()
	for q, found := range map[string]bool{"": true, "?q=counter+k-7": true, "?q=DARK": true, "?q=teapot": false, "?state=waiting": false, "?state=bench": true, "?state=nonsense": true} {
		if got := strings.Contains(s.page("/jobs"+q), `href="`+s.path(id, "")+`"`); got != found {
			t.Errorf("%q: found %v", q, got)
		}
	}
	page := s.page("/jobs")
	if !strings.Contains(page, "Counter box &lt;b&gt;") || !strings.Contains(page, "stands at: Made safe") {
		t.Error("the row does not say what and where")
	}
}

func TestTheOverviewSaysWhatIsMissing(t *testing.T) {
	s := newShop(t)
	id := s.take()
	page := s.page(s.path(id, ""))
	for _, want := range []string{"Lamp &#34;3&#34; is dark &amp; cold", "Mains unplugged, dead proven", "Go on: Made safe", "There is no hourly rate yet", `value="drying"`} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, c := range s.view(id).Job.OpenCautions("") {
		s.record(id, &job.Tick{Caution: c.Name})
	}
	if page := s.page(s.path(id, "")); !strings.Contains(page, "Go on: Agreed") {
		t.Error("once all is ticked it does not go on")
	}
	if page := s.page(s.path(id, "safety")); strings.Contains(page, "not proposed before") || strings.Count(page, "Take the tick away") < 8 {
		t.Error("the gate is not open, or ticks cannot be taken away")
	}
}

func TestDamageIsListedToBeRungOut(t *testing.T) {
	s := newShop(t)
	id := s.take()
	nets, unknown, err := s.desk.ZoneNets(t.Context(), id)
	if err != nil || !slices.Equal(unknown, []string{"U999"}) {
		t.Fatal(unknown, err)
	}
	c := s.view(id).Probe.Circuit
	u1, _ := c.PartByRef("U1")
	want := map[string]int{"LC3": 0}
	for _, q := range c.Parts[u1].Pins {
		if n := c.Nets[c.Pins[q].Net]; !n.Hidden && len(n.Pins) > 1 {
			want[n.Name] = len(n.Pins)
		}
	}
	rails := false
	for _, n := range nets {
		if _, ok := want[n.Net]; !ok || len(n.Pins) < 2 || want[n.Net] > 0 && len(n.Pins) != want[n.Net] {
			t.Errorf("%+v", n)
		}
		if rails && !n.Rail {
			t.Errorf("%s comes after a rail", n.Net)
		}
		rails = n.Rail
		delete(want, n.Net)
	}
	if len(nets) < 8 || len(want) > 0 {
		t.Errorf("%d nets, missing %v", len(nets), want)
	}
	page := s.page(s.path(id, "clean"))
	if strings.Count(page, `name="net"`) != len(nets) || !strings.Contains(page, "The board has no U999") {
		t.Error("the page does not list them, or does not tell of U999")
	}
	// An intake with a slip in it does not stop the work.
	s.record(id, &job.Entry{Replaced: []string{"U1"}})
}

func TestRepairsWaitForTheirParts(t *testing.T) {
	s := newShop(t)
	id := s.take()
	s.record(id, &job.Entry{Replaced: []string{"U2"}})
	c := s.view(id).Probe.Circuit
	u2, _ := c.PartByRef("U2")
	page := s.page(s.path(id, "mend"))
	if !strings.Contains(page, "U2 was replaced: by what?") || !strings.Contains(page, `name="type" value="`+c.Parts[u2].Src.Type+`"`) || !strings.Contains(page, "Replaced U2.") {
		t.Error("the form of the replaced part is missing")
	}
	s.post(s.path(id, "used"), "key=u", "ref=U2", "type=x")
	if strings.Contains(s.page(s.path(id, "mend")), "by what?") {
		t.Error("it is still asked for")
	}
}
