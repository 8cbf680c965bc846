package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The command line is tested as scripts in testdata/script: each runs the program in a folder of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"fairstick": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", Setup: func(e *testscript.Env) error {
		e.Setenv("FAIRSTICK_DATA", e.WorkDir+"/data")
		e.Setenv("HOME", e.WorkDir)
		e.Setenv("TMPDIR", e.WorkDir)
		return nil
	}})
}
