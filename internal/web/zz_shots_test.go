package web

import (
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"testing"
)

func TestZZShots(t *testing.T) {
	dir := os.Getenv("FAIRSTICK_SHOTS")
	full, empty := setUp(t), founded(t)
	if err := full.Roster(t.Context(), officeSetting()); err != nil {
		t.Fatal(err)
	}
	const edit = "/setup/protocol/edit"
	form := formOf(t, full.get("Lea Lead", edit), edit)
	form.Set("version", "2026.2"); form.Set("fasting_hours", "10"); form.Set("ratio.most", "3"); form.Set("source", "Invented county order")
	full.goes(full.post("Lea Lead", edit, fieldsOf(form)...), "/setup/protocol")
	o := full
	wrap := func(o *office) string {
		o.get("Lea Lead", "/setup")
		h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			r.AddCookie(&http.Cookie{Name: sessionCookie, Value: o.tokens["Lea Lead"]})
			if p := r.URL.Query().Get("_post"); p != "" {
				r2 := httptest.NewRequest("POST", p, strings.NewReader(r.URL.Query().Get("_form")))
				r2.Header.Set("Content-Type", "application/x-www-form-urlencoded")
				r2.AddCookie(&http.Cookie{Name: sessionCookie, Value: o.tokens["Lea Lead"]})
				o.server.ServeHTTP(w, r2)
				return
			}
			o.server.ServeHTTP(w, r)
		})
		s := httptest.NewServer(h)
		t.Cleanup(s.Close)
		return s.URL
	}
	fu, eu := wrap(full), wrap(empty)
	ev := "/events/" + o.Event
	bad := "/x?_post=/strips&_form=" + strings.NewReplacer("=", "%3D", "&", "%26").Replace("lot=B&models=Type+A&chemistry=gdh-fad&in_use=soon&each_vial=no&per_vial=50&unit=mg/dL&range_1_low=144&range_1_high=96")
	imp := "/x?_post=/lists/people/import&_form=" + strings.NewReplacer("=", "%3D", "&", "%26").Replace("text=name;roles%0AEve+Example;screener%0AFay;chief%0ARae+Runner;runner")
	imp2 := "/x?_post=/lists/people/import&_form=" + strings.NewReplacer("=", "%3D", "&", "%26").Replace("text=name;roles%0AEve+Example;screener%0ARae+Runner;runner")
	for name, u := range map[string]string{
		"setup": fu + "/setup", "setup-empty": eu + "/setup", "programme": fu + "/setup/programme", "protocol": fu + "/setup/protocol", "edit": fu + edit,
		"people": fu + "/people", "person": fu + "/people/" + o.ID("Cy Lapsed"), "person-new": fu + "/people/new", "meters": fu + "/meters", "meters-empty": eu + "/meters", "meter": fu + "/meters/" + o.ID("M1"),
		"meter-new": fu + "/meters/new", "strips": fu + "/strips", "strip": fu + "/strips/" + o.ID("A"), "strip-new": fu + "/strips/new", "strip-bad": fu + bad, "import": fu + "/lists/people/import", "import-bad": fu + imp, "import-ok": fu + imp2,
		"events": fu + "/events", "event-new": fu + "/events/new", "event": fu + ev, "roster": fu + ev + "/roster", "wipes": fu + "/disinfectants", "controls": fu + "/controls-solution",
	} {
		if only := os.Getenv("ONLY"); only != "" && !strings.Contains(","+only+",", ","+name+",") {
			continue
		}
		for size, w := range map[string]string{"phone": "390,2600", "laptop": "1366,1700"} {
			if os.Getenv("TALL") != "" {
				w = strings.Split(w, ",")[0] + "," + os.Getenv("TALL")
			}
			out, err := exec.Command("chromium", "--headless", "--no-sandbox", "--hide-scrollbars", "--disable-gpu", "--window-size="+w, "--screenshot="+dir+"/"+name+"-"+size+".png", u).CombinedOutput()
			if err != nil {
				t.Fatalf("%s %v", out, err)
			}
		}
	}
}
