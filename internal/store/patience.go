package store

import (
	"fmt"
	"os"
	"time"
)

// What Open does can take long. From waitFirst on it says what it does and how far it is, and again after waitAgain.
const (
	waitFirst = 2 * time.Second
	waitAgain = time.Second
)

// patience tells whoever waits for one piece of work.
type patience struct {
	o           *Options
	began, said time.Time
}

func (o *Options) patience() *patience {
	now := o.Now()
	return &patience{o: o, began: now, said: now.Add(waitFirst - waitAgain)}
}

// tell is called again and again while the work goes on; text makes the sentence when it is time for one.
func (p *patience) tell(text func(took time.Duration) string) {
	if p.o.Slow == nil {
		return
	}
	if now := p.o.Now(); now.Sub(p.said) >= waitAgain {
		p.said = now
		p.o.Slow(text(now.Sub(p.began)))
	}
}

// looking says that the file is looked through, as a function to be called again and again.
func (o *Options) looking(path string) func() {
	size := ""
	if info, err := os.Stat(path); err == nil {
		size = fmt.Sprintf(" (%d MB)", info.Size()>>20)
	}
	p := o.patience()
	return func() {
		p.tell(func(took time.Duration) string {
			return fmt.Sprintf("Fairstick looks through the whole record%s for damage before it opens it: %s so far. A large record takes some minutes.", size, seconds(took))
		})
	}
}

// remaking says that the tables are made again, as a function to be called for each subject.
func (o *Options) remaking() func(done, of int) {
	p := o.patience()
	return func(done, of int) {
		p.tell(func(took time.Duration) string {
			said := fmt.Sprintf("This version of Fairstick opens the record for the first time and makes its tables again from the entries, once: %d %% done", 100*done/max(of, 1))
			if done > 0 && done >= of/20 { // before that it is a guess
				said += ", about " + seconds(took*time.Duration(of-done)/time.Duration(done)) + " more"
			}
			return said + "."
		})
	}
}

// seconds says how long something takes.
func seconds(d time.Duration) string {
	if d >= 2*time.Minute {
		return fmt.Sprintf("%d minutes", int(d.Round(time.Minute).Minutes()))
	}
	return fmt.Sprintf("%d seconds", int(d.Round(time.Second).Seconds()))
}
