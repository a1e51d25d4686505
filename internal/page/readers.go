package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"bedd/internal/glance"
)

// readers are the open event streams. A reader that is late misses models.
type readers struct {
	mu      sync.Mutex
	open    map[*reader]struct{}
	last    glance.Model
	shown   bool                   // there is a last one
	encoded map[transposing][]byte // the last one, as far as somebody wants it
}

type reader struct {
	as   transposing
	mail mailbox[[]byte]
}

// join makes a reader, with the last model in its mailbox; it is nil where there
// are too many.
func (r *readers) join(as transposing) *reader {
	r.mu.Lock()
	defer r.mu.Unlock()
	if len(r.open) >= maxReaders {
		return nil
	}
	one := &reader{as, newMailbox[[]byte]()}
	if r.shown {
		one.mail.put(r.encode(as))
	}
	if r.open == nil {
		r.open = map[*reader]struct{}{}
	}
	r.open[one] = struct{}{}
	return one
}

func (r *readers) leave(one *reader) {
	r.mu.Lock()
	defer r.mu.Unlock()
	delete(r.open, one)
}

// letter is an event for a reader.
type letter struct {
	to    mailbox[[]byte]
	event []byte
}

// publish gives what every reader is to get of a model.
func (r *readers) publish(m glance.Model) (letters []letter) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.last, r.shown, r.encoded = m, true, nil
	for one := range r.open {
		letters = append(letters, letter{one.mail, r.encode(one.as)})
	}
	return letters
}

// encode gives the last model as an event, the same bytes to all who read alike.
func (r *readers) encode(as transposing) []byte {
	if event, ok := r.encoded[as]; ok {
		return event
	}
	data, err := json.Marshal(as.model(r.last))
	if err != nil {
		panic(err) // numbers that are none
	}
	if r.encoded == nil {
		r.encoded = map[transposing][]byte{}
	}
	event := fmt.Appendf(nil, "data: %s\n\n", data)
	r.encoded[as] = event
	return event
}

// events streams models to one reader, as server-sent events (HTML, 9.2).
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	as, err := parseTransposing(r.URL.Query())
	if err != nil {
		refuse(w, http.StatusBadRequest, err.Error())
		return
	}
	one := s.readers.join(as)
	if one == nil {
		refuse(w, http.StatusServiceUnavailable, "too many pages are open: close some")
		return
	}
	defer s.readers.leave(one)
	out := http.NewResponseController(w)
	_ = out.SetReadDeadline(time.Time{}) // no request comes after it
	w.Header().Set("Content-Type", "text/event-stream")
	event := []byte("retry: 500\n\n")
	for {
		if out.SetWriteDeadline(time.Now().Add(stallTime)) != nil {
			return
		}
		if _, err := w.Write(event); err != nil || out.Flush() != nil {
			return
		}
		select {
		case event = <-one.mail:
		case <-r.Context().Done():
			return
		case <-s.done:
			return
		}
	}
}
