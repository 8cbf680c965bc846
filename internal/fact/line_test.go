package fact

import "testing"

func TestLineComesBack(t *testing.T) {
	var l Line
	l.Text("")
	l.Text("a|b")
	l.Int(0)
	l.Int(-12)
	l.Flag(true)
	l.Flag(false)
	if l.String() != "1||a/b||-12|y|" {
		t.Errorf("written as %q", l.String())
	}
	r := ReadLine(l.String())
	if a, b, c, d, e, f := r.Text(), r.Text(), r.Int(), r.Int(), r.Flag(), r.Flag(); a != "" || b != "a/b" || c != 0 || d != -12 || !e || f || r.Err() != nil {
		t.Errorf("read as %q %q %d %d %v %v, %v", a, b, c, d, e, f, r.Err())
	}
}

func TestLineThatIsNotOne(t *testing.T) {
	read := func(s string) error {
		r := ReadLine(s)
		r.Text()
		r.Int()
		return r.Err()
	}
	for _, s := range []string{"", "1", "1|a", "1|a|x", "1|a|3|4", "2|a|3"} {
		if read(s) == nil {
			t.Errorf("%q was read", s)
		}
	}
	if err := read("1|a|3"); err != nil {
		t.Error(err)
	}
}
