package guard

// Answers that stay open: the page's stream of events.

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"
)

// Stream is an answer that stays open and sends events as they happen (text/event-stream). Not for several goroutines at once.
type Stream struct {
	w        io.Writer
	control  *http.ResponseController
	done     <-chan struct{}
	patience time.Duration
}

// ends is what a live stream must not outlive; Wrap puts it into the context of every request.
type ends struct {
	stopping context.Context // the server
	session  context.Context // without passphrase: the server again
	life     time.Duration   // what is left of the session if nobody does anything
	patience time.Duration   // for one event to leave
}

type endsKey struct{}

// Live turns the answer to r into a stream of events: it sends the header at once and lifts the time limit of the answer. r must have
// come through Wrap.
func Live(w http.ResponseWriter, r *http.Request) (*Stream, error) {
	e, ok := r.Context().Value(endsKey{}).(ends)
	if !ok {
		return nil, errors.New("guard: a live answer outside of Wrap")
	}
	ctx, cancel := context.WithTimeout(r.Context(), e.life)
	forget := []func() bool{context.AfterFunc(e.stopping, cancel), context.AfterFunc(e.session, cancel)}
	context.AfterFunc(ctx, func() { // at the latest when the request is over
		for _, f := range forget {
			f()
		}
		cancel()
	})
	s := &Stream{w: w, control: http.NewResponseController(w), done: ctx.Done(), patience: e.patience}
	w.Header().Set("Content-Type", "text/event-stream; charset=utf-8")
	w.WriteHeader(http.StatusOK)
	return s, s.flush()
}

// Done is closed when the client has left, the session has ended or the program stops.
func (s *Stream) Done() <-chan struct{} { return s.done }

// Send writes one event, already in the form of the standard (ending in an empty line), and sees that it leaves.
func (s *Stream) Send(event []byte) error {
	if _, err := s.w.Write(event); err != nil {
		return err
	}
	return s.flush()
}

func (s *Stream) flush() error {
	_ = s.control.SetWriteDeadline(time.Now().Add(s.patience))
	if err := s.control.Flush(); err != nil {
		return err
	}
	_ = s.control.SetWriteDeadline(time.Time{}) // silence may last; over HTTP/2 a deadline ends the stream even when nothing is being written
	return nil
}

// isLive reports whether the client asks for a stream of events. Browsers ask again by themselves when a stream breaks, so such a
// request is no sign that anybody is there, and does not prolong a session.
func isLive(r *http.Request) bool { return r.Header.Get("Accept") == "text/event-stream" }
