package analog

// What a planning step takes on a board of 150 devices, beside what the same step would take if every candidate were solved afresh for every story looked
// at: the two are measured in one run, so that their ratio does not hang on the machine.

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"halfsplit/internal/core/advise"
	"halfsplit/internal/core/circuit"
	"halfsplit/internal/core/elec"
	"halfsplit/internal/core/evidence"
	"halfsplit/internal/core/part"
)

// afresh is how many solutions from nothing are timed; the rest of them are counted.
const afresh = 60

// BenchmarkPlanningStep measures the first step after a complaint and the one after it, on one goroutine. "first-x" and "next-x" say how many times longer
// solving every candidate afresh would be.
func BenchmarkPlanningStep(b *testing.B) {
	lib, fl := part.Embedded()
	if fl.Errors() {
		b.Fatal(fl)
	}
	c, fl := circuit.Build(Generate(rand.New(rand.NewPCG(150, 0)), 150), lib)
	if c == nil {
		b.Fatal(fl)
	}
	m, fl := New(c, 1)
	if m == nil {
		b.Fatal(fl)
	}
	have := evidence.Bench{Meter: true, Scope: true, Iron: true}
	var first, next time.Duration
	var firstX, nextX float64
	for b.Loop() {
		l := NewLab(NewUniverse(m))
		b.StopTimer()
		u, complaint, err := broken(context.Background(), l, rand.New(rand.NewPCG(153, 5)), everything(l, have))
		if err != nil {
			b.Fatal(err)
		}
		l = NewLab(l.U) // nothing is known of the faults yet
		b.StartTimer()
		s, _ := NewSession(l, &evidence.Case{})
		s.Obs = []Obs{complaint}
		step := func() (*Plan, time.Duration) {
			began := time.Now()
			if err := s.Run(context.Background()); err != nil {
				b.Fatal(err)
			}
			p, err := s.Plan(context.Background(), have, advise.DefaultCosts())
			if err != nil {
				b.Fatal(err)
			}
			return p, time.Since(began)
		}
		p, took := step()
		first += took
		b.StopTimer()
		alone := s.solvedAfresh(b, p, have)
		firstX += alone.Seconds() / took.Seconds()
		if len(p.Proposals) == 0 {
			b.Fatal("nothing was proposed")
		}
		k := p.Proposals[0].Check
		x, ok := u.Read(k)
		if !ok {
			b.Fatal("no answer")
		}
		s.Obs = append(s.Obs, Obs{0, k, scales[k.Kind].in(x), p.Proposals[0].At, 0.98})
		b.StartTimer()
		p, took = step()
		next += took
		b.StopTimer()
		nextX += s.solvedAfresh(b, p, have).Seconds() / took.Seconds()
		b.StartTimer()
	}
	n := float64(b.N)
	b.ReportMetric(first.Seconds()/n*1000, "first-ms")
	b.ReportMetric(next.Seconds()/n*1000, "next-ms")
	b.ReportMetric(firstX/n, "first-x")
	b.ReportMetric(nextX/n, "next-x")
}

func everything(l *Lab, have evidence.Bench) []Proposal {
	s, _ := NewSession(l, &evidence.Case{})
	return s.candidates(have, advise.DefaultCosts(), nil)
}

// solvedAfresh is what it takes to solve the board from nothing, once for every candidate that is read off the whole board and every story that was looked at.
func (s *Session) solvedAfresh(b *testing.B, p *Plan, have evidence.Bench) time.Duration {
	top := s.Stories[:p.Looked]
	var checks []Check
	for _, x := range s.candidates(have, advise.DefaultCosts(), s.suspected(top)) {
		if x.Check.solved() && !x.Check.Cond.Bench {
			checks = append(checks, x.Check)
		}
	}
	pairs := len(top) * len(checks)
	if pairs == 0 {
		b.Fatal("nothing to solve")
	}
	done := 0
	began := time.Now()
	for i := range afresh {
		at := i * pairs / afresh
		st, k := top[at/len(checks)], checks[at%len(checks)]
		patch := s.Lab.patchOf(subjectOf(st.Hyps), k.Cond)
		solver := s.M.E.NewSolver()
		if _, err := solver.OP(elec.Options{}, patch); err == nil {
			done++
		}
	}
	took := time.Since(began)
	if done < afresh*8/10 {
		b.Fatalf("%d of %d were solved", done, afresh)
	}
	return took * time.Duration(pairs) / afresh
}
