package app_test

import (
	"reflect"
	"strings"
	"testing"

	"halfsplit/internal/app"
	"halfsplit/internal/core/board"
)

func TestRestsAsOneField(t *testing.T) {
	for _, x := range []struct {
		typed, back string
		closed      bool
		rests       []board.Rest
		wrong       string
	}{
		{"", "", false, nil, ""},
		{"open", "", false, nil, ""},
		{" closed ", "closed", true, nil, ""},
		{"down", "down", false, []board.Rest{{To: "down"}}, ""},
		{"2: closed,4 :closed", "2: closed, 4: closed", false, []board.Rest{{Section: "2", To: "closed"}, {Section: "4", To: "closed"}}, ""},
		{"2 4", "was", false, []board.Rest{{To: "was"}}, "one for each section, such as 2: closed"},
		{"2: closed, 4", "was", false, []board.Rest{{To: "was"}}, `found "4"`},
		{"2: closed, 2: open", "was", false, []board.Rest{{To: "was"}}, "twice"},
		{":", "was", false, []board.Rest{{To: "was"}}, "written 2: closed"},
	} {
		p := board.Part{Rests: []board.Rest{{To: "was"}}}
		err := app.SetRests(&p, x.typed)
		if (err == nil) != (x.wrong == "") || err != nil && !strings.Contains(err.Error(), x.wrong) {
			t.Errorf("%q: %v, want %q", x.typed, err, x.wrong)
		}
		if p.Closed != x.closed || !reflect.DeepEqual(p.Rests, x.rests) || app.RestsText(&p) != x.back {
			t.Errorf("%q: %v %v, back %q", x.typed, p.Closed, p.Rests, app.RestsText(&p))
		}
	}
}
