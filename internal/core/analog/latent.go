package analog

import "math"

// This file is about stories that no reading speaks for: a fault may be there and have shown nothing. Which of them sleeps where is no question while
// something else has shown.

const (
	unasked = 0.2  // how much less likely a machine is to be brought in for a fault that shows in nothing seen than for one that does (as on boards of logic)
	chased  = 0.05 // probability of stories that have shown from which on checks are for them alone
	spoken  = 1.0  // how much better than the sound board, in nats, a story has to expect a reading that speaks for it
)

// latent tells whether no reading speaks for a story more than for the sound board, which is latent itself.
func (st *Story) latent(sound *Story) bool {
	if len(st.Hyps) == 0 {
		return true
	}
	if !st.joint || len(st.trail) != len(sound.trail) || len(st.trail) == 0 {
		return false
	}
	a, b := st.before, sound.before
	for i := range st.trail {
		if st.trail[i]-a > sound.trail[i]-b+spoken {
			return false
		}
		a, b = st.trail[i], sound.trail[i]
	}
	return st.trail[len(st.trail)-1]-st.before <= sound.trail[len(sound.trail)-1]-sound.before+2*spoken
}

// sound is the story of nothing wrong, when it was weighed as a whole.
func (s *Session) sound() *Story {
	for i := range s.Stories {
		if len(s.Stories[i].Hyps) == 0 && s.Stories[i].joint {
			return &s.Stories[i]
		}
	}
	return nil
}

// brought weighs down the stories in which every surprise of the log is a slip and every fault one that nobody came for. What has been weighed down once is not again.
func (s *Session) brought() {
	sound := s.sound()
	if sound == nil || sound.explained() {
		return
	}
	for i := range s.Stories {
		st := &s.Stories[i]
		if len(st.Hyps) > 0 && !st.weighedDown && st.latent(sound) {
			st.weighedDown = true
			st.log += math.Log(unasked)
		}
	}
}

// sleeping makes one group of the stories that have shown nothing, when others have.
func (f *field) sleeping(top []Story, sound *Story) {
	if sound == nil {
		return
	}
	asleep := make([]bool, len(top))
	awake := 0.0
	for i := range top {
		asleep[i] = top[i].latent(sound)
		if !asleep[i] {
			awake += f.p[i]
		}
	}
	if awake < chased {
		return
	}
	group := make([]int, len(f.group))
	for i, g := range f.group {
		group[i] = g
		if asleep[i] {
			group[i] = f.n
		}
	}
	f.group, f.n = group, f.n+1
}
