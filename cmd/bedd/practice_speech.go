package main

import (
	"errors"
	"fmt"
	"os/exec"
	"time"

	"bedd/internal/practice"
)

// speechProgram speaks, where it is installed.
const speechProgram = "espeak-ng"

func canSpeak() error {
	if _, err := exec.LookPath(speechProgram); err != nil {
		return errors.New("--speak needs " + speechProgram + ", which is not installed: install it, or leave --speak out and read the words")
	}
	return nil
}

// speaker says a task's words aloud, as intensely as they are meant. It is nothing for a
// nil speaker.
type speaker struct {
	task practice.Task
	said int
	run  *exec.Cmd
}

func (s *speaker) begin(t practice.Task) {
	if s != nil {
		s.end()
		s.task, s.said = t, 0
	}
}

// say says what is due by a time after the begin.
func (s *speaker) say(at time.Duration) {
	if s == nil {
		return
	}
	for s.said < len(s.task.Curve) && s.task.Curve[s.said].At <= at {
		p := s.task.Curve[s.said]
		s.said++
		if p.Says == "" {
			continue
		}
		s.end()
		cmd := exec.Command(speechProgram, speechArgs(p)...)
		if cmd.Start() == nil {
			s.run = cmd
			go cmd.Wait()
		}
	}
}

// speechArgs are how words are said: louder, quicker and higher the more intense they
// are, never at full volume.
func speechArgs(p practice.Point) []string {
	return []string{"-a", fmt.Sprint(20 + int(60*p.Intensity)), "-s", fmt.Sprint(130 + int(50*p.Intensity)), "-p", fmt.Sprint(35 + int(25*p.Intensity)), "--", p.Says}
}

// end is silent.
func (s *speaker) end() {
	if s != nil && s.run != nil {
		s.run.Process.Kill()
		s.run = nil
	}
}
