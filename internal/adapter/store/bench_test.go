package store

import (
	"fmt"
	"testing"

	"halfsplit/internal/app"
)

func BenchmarkAppend(b *testing.B) {
	s := fresh(b)
	id := opened(b, s, "open")
	for seq := int64(2); b.Loop(); seq++ {
		if _, _, err := s.Append(bg, id, seq, event(fmt.Sprint(seq)), app.JobSummary{Title: "Ledger 8", Text: "stays dark"}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkEventsOf1000(b *testing.B) {
	s := fresh(b)
	id := opened(b, s, "open")
	for seq := int64(2); seq <= 1000; seq++ {
		added(b, s, id, seq, fmt.Sprint(seq))
	}
	for b.Loop() {
		if events, err := s.Events(bg, id, 0); err != nil || len(events) != 1000 {
			b.Fatal(len(events), err)
		}
	}
}

func BenchmarkJobsOf2000(b *testing.B) {
	s := fresh(b)
	for k := range 2000 {
		_, err := s.CreateJob(bg, event(fmt.Sprint(k)), app.JobSummary{Title: fmt.Sprintf("Ledger %d", k), State: "bench", Text: "Öl im Gehäuse, bleibt dunkel"})
		if err != nil {
			b.Fatal(err)
		}
	}
	for search, want := range map[string]int{"": 2000, "gehäuse DUNKEL 1999": 1} {
		b.Run(fmt.Sprintf("search=%q", search), func(b *testing.B) {
			for b.Loop() {
				if rows, err := s.Jobs(bg, search, ""); err != nil || len(rows) != want {
					b.Fatal(len(rows), err)
				}
			}
		})
	}
}
