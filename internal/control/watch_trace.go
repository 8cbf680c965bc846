package control

// Trace is how far one meter has lain from the others through an event.
type Trace struct {
	Meter   string
	Tests   int
	Percent float64 // its median over that of the others, less 1, in percent; 0 while there are no others
	Limit   float64 // in standard errors, beyond which it alarms
	Steps   []TraceStep
}

// TraceStep is where a meter lay after one test of the day, its own or another's. Earlier events with its lot are in it, as in
// the alarm.
type TraceStep struct {
	At       int     // Sequence of the test
	Distance float64 // from the others, in standard errors
	Alarm    bool    // an alarm named this meter here
}

// Traces sends readings through a new watcher and follows each meter of the last event, in the order in which they came up. A
// meter has steps from where it can be compared: eight tests of its own and eight of others. No readings give none; errors are
// those of Watch.
func Traces(l Limits, readings []Reading) ([]Trace, error) {
	w := NewWatcher(l)
	steps := map[string][]TraceStep{}
	for _, r := range readings {
		if r.Event != w.event {
			clear(steps)
		}
		alarm, err := w.Add(r)
		if err != nil {
			return nil, err
		}
		for _, m := range w.names(byMeter) {
			if d, ok := w.distance(m); ok {
				named := alarm != nil && alarm.Kind == MeterApart && (alarm.Meter == m.name || alarm.Other == m.name)
				steps[m.name] = append(steps[m.name], TraceStep{At: r.Sequence, Distance: d, Alarm: named})
			}
		}
	}
	var out []Trace
	for _, m := range w.names(byMeter) {
		own, rest := w.values(m, 0)
		out = append(out, Trace{Meter: m.name, Tests: len(own), Percent: apart(own, rest), Limit: l.Source[byMeter], Steps: steps[m.name]})
	}
	return out, nil
}
