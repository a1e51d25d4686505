package main

import (
	"os"
	"path/filepath"
	"testing"

	"bedd/internal/bed"
	"bedd/internal/gathering"
	"bedd/internal/session"
)

// What a device, a file or a fault is called is shown, not obeyed; lines stay lines.
func TestNoLineIsObeyed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "said")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	screen := newScreen(file, newMishaps())
	screen.line("Stage\x1b]0;x\a is lost\nand\u009b2J more")
	screen.close()
	if text, err := os.ReadFile(path); err != nil || string(text) != "Stage\uFFFD]0;x\uFFFD is lost\nand\uFFFD2J more\n" {
		t.Errorf("the screen says %q, %v", text, err)
	}
}

// Notes are struck after the mark that tells of them: putting it into words is the
// screen's own affair, however long that takes.
func TestMarksDoNotWaitForTheirWords(t *testing.T) {
	path := filepath.Join(t.TempDir(), "said")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	screen := newScreen(file, newMishaps())
	thinks := make(chan struct{})
	r := &room{screen: screen, take: new(session.Take), title: func(int) string {
		<-thinks
		return "the prayer"
	}}
	m := loaded(t, "default")
	r.moment = m.moment
	if r.session, err = session.New(gathering.DefaultRig(), m.moments, r); err != nil {
		t.Fatal(err)
	}
	r.Mark(bed.Action{Kind: bed.ChangeMoment, Value: 0}) // comes back while nobody knows the title
	close(thinks)
	screen.close()
	if text, err := os.ReadFile(path); err != nil || string(text) != " 0:00.0  next: the prayer\n" {
		t.Errorf("the screen says %q, %v", text, err)
	}
}
