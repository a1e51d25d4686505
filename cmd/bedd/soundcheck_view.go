package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"

	"bedd/internal/glance"
	"bedd/internal/linecheck"
)

// prompter shows prompts and gives answers. Its channel is closed when the player ends
// the walk. show is called often, and shows what is new.
type prompter interface {
	show(linecheck.Prompt)
	answers() <-chan linecheck.Answer
	close()
}

// answerKeys are the keys of a card, and the words of a line.
var answerKeys = map[string]linecheck.Answer{
	"enter": linecheck.Yes, "": linecheck.Yes, "y": linecheck.Yes, "yes": linecheck.Yes,
	"n": linecheck.No, "no": linecheck.No, "r": linecheck.Again, "again": linecheck.Again,
	"s": linecheck.Skip, "skip": linecheck.Skip, "b": linecheck.Back, "back": linecheck.Back,
}

// keyOf is the key of an answer as a prompt names it.
var keyOf = map[linecheck.Answer]string{
	linecheck.Yes: "enter", linecheck.No: "n", linecheck.Again: "r", linecheck.Skip: "s", linecheck.Back: "b",
}

func choices(p linecheck.Prompt) (list []string) {
	for _, c := range p.Choices {
		list = append(list, keyOf[c.Answer]+" "+c.Means)
	}
	return list
}

// cards shows prompts on all of a terminal.
type cards struct {
	terminal *glance.Terminal
	given    chan linecheck.Answer
}

func newCards(in *os.File) (*cards, error) {
	t, err := glance.OpenTerminal(in, os.Stdout, nil, func() {})
	if err != nil {
		return nil, err
	}
	c := &cards{t, make(chan linecheck.Answer)}
	go func() {
		defer close(c.given)
		for {
			select {
			case <-t.Done():
				return
			case k := <-t.Keys():
				if k.Name == glance.Interrupt || k.Name == "q" {
					return
				}
				if a, ok := answerKeys[strings.ToLower(k.Name)]; ok && !k.Held {
					select {
					case c.given <- a:
					case <-t.Done():
						return
					}
				}
			}
		}
	}()
	return c, nil
}

func (c *cards) answers() <-chan linecheck.Answer { return c.given }
func (c *cards) close()                           { c.terminal.Close() }

func (c *cards) show(p linecheck.Prompt) {
	card := glance.Card{
		Head: fmt.Sprintf("sound check, step %d of %d: %s", p.Number, p.Of, p.Step),
		Big:  p.Big, Say: p.Say, Heard: p.Heard, Care: p.Care, Keys: append(choices(p), "q ends, keeping what is done"),
	}
	for _, t := range p.Troubles {
		card.Alarm = append(card.Alarm, t.Text+": "+t.Cure)
	}
	c.terminal.ShowCard(card)
}

// lineView shows prompts as lines, and takes a line as an answer.
type lineView struct {
	talk  io.Writer
	given chan linecheck.Answer
	over  chan struct{}
	said  map[string]bool
	last  string
}

// readLines gives the lines that come, until they end.
func readLines(in io.Reader) <-chan string {
	words := make(chan string)
	go func() {
		defer close(words)
		for lines := bufio.NewScanner(in); lines.Scan(); {
			words <- strings.ToLower(strings.TrimSpace(lines.Text()))
		}
	}()
	return words
}

func newLines(words <-chan string, talk io.Writer) *lineView {
	l := &lineView{talk: talk, given: make(chan linecheck.Answer), over: make(chan struct{}), said: map[string]bool{}}
	go l.read(words)
	return l
}

// read turns lines into answers. When they end nobody can answer any more, but feet and
// keys still lead on.
func (l *lineView) read(words <-chan string) {
	for {
		select {
		case word, more := <-words:
			a, known := answerKeys[word]
			switch {
			case !more:
				return
			case word == "q" || word == "quit":
				close(l.given)
				return
			case known:
				select {
				case l.given <- a:
				case <-l.over:
					return
				}
			}
		case <-l.over:
			return
		}
	}
}

func (l *lineView) answers() <-chan linecheck.Answer { return l.given }
func (l *lineView) close()                           { close(l.over) }

func (l *lineView) show(p linecheck.Prompt) {
	for _, h := range p.Heard {
		if !l.said["heard "+h] {
			l.said["heard "+h] = true
			fmt.Fprintln(l.talk, folded("  = ", h))
		}
	}
	big := fmt.Sprint(p.Number, p.Big, len(p.Say))
	if big != l.last {
		l.last = big
		fmt.Fprintf(l.talk, "\n%d/%d %s: %s\n", p.Number, p.Of, p.Step, p.Big)
		for _, s := range p.Say {
			fmt.Fprintln(l.talk, folded("  ", s))
		}
		if p.Care != "" && !l.said[p.Care] {
			l.said[p.Care] = true
			fmt.Fprintln(l.talk, folded("  take care: ", p.Care))
		}
		fmt.Fprintln(l.talk, folded("  ", strings.Join(choices(p), ", ")+", q ends"))
	}
	for _, t := range p.Troubles {
		if key := fmt.Sprint(p.Number, t.Text); !l.said[key] {
			l.said[key] = true
			fmt.Fprintln(l.talk, folded("  ! ", t.Text+": "+t.Cure))
		}
	}
}
