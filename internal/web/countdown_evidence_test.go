package web

import (
	"regexp"
	"strings"
	"testing"
	"time"
)

const invoice = "%PDF-1.7\n1 0 obj << >> endobj\n%%EOF\n"

func TestEvidencePages(t *testing.T) {
	o := setUp(t)
	page := o.autumn("Autumn Fair") + "/countdown"
	o.goes(o.post("Lea Lead", page, "what=Room permit", "days=10", "when=before", "owner="+o.ID("Rae Runner")), page)
	link := regexp.MustCompile(`href="(` + page + `/[^"]+)"[^>]*>Room permit`).FindStringSubmatch(o.get("Lea Lead", page).body)
	if link == nil {
		t.Fatal("the task is not listed")
	}
	task := link[1]
	o.want(o.get("Rae Runner", task), 200, "No file is attached.", "No participant data belongs in these files", "Attach the file")
	o.want(o.get("Dot Counsellor", task), 200, "No file is attached.", "!Attach the file")
	o.want(o.post("Rae Runner", task+"/files"), 422, "Choose a file first.")
	o.want(o.send("Rae Runner", task+"/files", "file", "<html>not a letter</html>"), 422, "no PDF, JPEG or PNG, whatever its name says")
	o.want(o.send("Rae Runner", task+"/files", "file", strings.Repeat("x", 6<<20)), 422, "too large")
	o.want(o.send("Dot Counsellor", task+"/files", "file", invoice), 403)
	o.goes(o.send("Rae Runner", task+"/files", "file", invoice), task)
	o.Clock.Set(o.Clock.Now().Add(time.Minute))
	o.goes(o.send("Lea Lead", task+"/files", "file", strings.Replace(invoice, "1 0", "2 0", 1)), task)
	o.want(o.get("Rae Runner", task), 200, "Attached by", "Rae Runner", "A newer file stands before it.", "PDF, 1 kB", "!/files/", "!Erase it for good")
	at := regexp.MustCompile(`href="(`+task+`/files/[^"]+)" download`).FindAllStringSubmatch(o.get("Lea Lead", task).body, -1)
	if len(at) != 2 {
		t.Fatalf("%d files can be read", len(at))
	}
	o.want(o.get("Lea Lead", page), 200, "File: file (PDF, 1 kB; Lea Lead,")
	o.want(o.get("Lea Lead", "/countdown"), 200, "File: file (PDF, 1 kB; Lea Lead,")
	a := o.get("Sue Supervisor", at[1][1])
	if a.status != 200 || a.body != invoice {
		t.Errorf("%d %q", a.status, a.body)
	}
	for name, want := range map[string]string{"Content-Type": "application/pdf", "X-Content-Type-Options": "nosniff", "Cache-Control": "no-store", "Content-Security-Policy": "sandbox; default-src 'none'"} {
		if got := a.header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if d := a.header.Get("Content-Disposition"); !regexp.MustCompile(`^attachment; filename="evidence-2026-06-20-[0-9a-f]{8}\.pdf"$`).MatchString(d) {
		t.Error(d)
	}
	o.want(o.get("Rae Runner", at[1][1]), 403)
	o.want(o.get("Lea Lead", task+"/files/nothing"), 404, "There is no such file in the record.")
	sign := []string{"sign_person=" + o.ID("Lea Lead"), "sign_pin=4821"}
	o.want(o.post("Lea Lead", at[0][1]+"/erase", sign...), 422, "The reason is missing.")
	o.want(o.post("Sue Supervisor", at[0][1]+"/erase", append(sign, "reason=x")...), 403)
	o.goes(o.post("Lea Lead", at[0][1]+"/erase", append(sign, "reason=a face is on it")...), task)
	o.want(o.get("Lea Lead", task), 200, "Erased file", "Erased on 20 Jun 2026: a face is on it", "!A newer file stands before it.")
	o.want(o.get("Lea Lead", at[0][1]), 404, "This file was erased: a face is on it.")
}
