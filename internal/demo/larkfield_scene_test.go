package demo

import (
	"time"

	"fairstick/internal/event"
	"fairstick/internal/programme"
)

// larkfield is the programme of the Larkfield day, and below it who comes when and is read as what.
func larkfield() Programme {
	screener := func(until string) []Proof { return []Proof{{"screener", "2024-10-02", until}} }
	counsellor := []Proof{{"counsellor", "2025-01-10", "2026-01-09"}}
	return Programme{
		Describe: programme.Describe{
			Name: "Fennimore College of Pharmacy, Sugar Check", Certificate: "INVENTED-0001", CertificateUntil: "2026-06-30",
			Contact: "555 0100", ContactHours: "weekdays 9 to 17", Emergency: "911", Unit: "mg/dL", LabelledUse: true,
		},
		Lead: Person{Name: "Odile Marchetti", PIN: "4821", Roles: []string{"lead", "supervisor"}, Post: "supervisor"},
		People: []Person{
			{Name: "Samuel Oyelaran", PIN: "5093", Roles: []string{"supervisor"}, Post: "supervisor"},
			{Name: "Grete Lindqvist", PIN: "6174", Roles: []string{"supervisor"}, Post: "supervisor"},
			{Name: "Ana Ruiz", PIN: "7285", Roles: []string{"screener"}, Verified: screener("2026-03-01"), Post: "screener", Station: "1"},
			{Name: "Ben Achebe", PIN: "8396", Roles: []string{"screener", "desk"}, Verified: screener("2025-10-01")},
			{Name: "Chidi Park", PIN: "9407", Roles: []string{"screener"}, Verified: screener("2026-03-01"), Post: "screener", Station: "3"},
			{Name: "Dana Holt", PIN: "1518", Roles: []string{"screener"}, Verified: screener("2026-03-01"), Post: "screener", Station: "4", Absent: true},
			{Name: "Elif Demir", PIN: "2629", Roles: []string{"screener"}, Verified: screener("2026-03-01"), Post: "screener", Station: "4"},
			{Name: "Lena Fischer", PIN: "3730", Roles: []string{"screener", "runner"}, Verified: screener("2026-03-01"), Post: "screener", Station: "2"},
			{Name: "Farah Noor", PIN: "4841", Roles: []string{"counsellor"}, Verified: counsellor, Post: "counsellor"},
			{Name: "Gil Santos", PIN: "5952", Roles: []string{"counsellor"}, Verified: counsellor, Languages: []string{"en", "es"}, Post: "counsellor"},
			{Name: "Hana Kim", PIN: "6063", Roles: []string{"counsellor"}, Verified: counsellor, Post: "counsellor"},
			{Name: "Ivo Petrov", PIN: "7174", Roles: []string{"desk"}, Post: "desk"},
			{Name: "June Abbott", PIN: "8285", Roles: []string{"desk", "runner"}, Post: "desk"},
			{Name: "Kofi Mensah", PIN: "9306", Roles: []string{"runner"}, Post: "runner"},
		},
		Meters: []Meter{{"M1", "INV-001", "button"}, {"M2", "INV-002", "button"}, {"M3", "INV-003", "button"}, {"M4", "INV-004", "button"}, {"M5", "INV-005", "button"}},
		Lots: []Lot{
			{
				Lot: "A", Code: "17", Expiry: "2026-02", InUse: "180", Chemistry: "gdh-fad", Level1: [2]string{"96", "144"}, Level2: [2]string{"252", "340"},
				Vials: []Opened{{"A1", "2025-09-20"}, {"A2", ""}},
			},
			{Lot: "B", Code: "23", Expiry: "2026-08", InUse: "180", Chemistry: "gdh-fad", Level1: [2]string{"98", "146"}, Level2: [2]string{"255", "344"}},
		},
		Controls: []Solution{{Lot: "C1", Level: "1", Expiry: "2026-03", Bottles: []Opened{{"old", "2025-07-02"}}}, {Lot: "C2", Level: "2", Expiry: "2026-03", Bottles: []Opened{{"old", "2025-07-02"}}}},
		Wipe:     programme.DescribeDisinfectant{Name: "Wipes W", ContactSeconds: 60},
		Plan: programme.PlanEvent{
			Name: "Larkfield Harvest Fair", Venue: "St. Brendan's Hall", Address: "1 Invented Lane, Larkfield", Date: "2025-10-04",
			Doors: "09:00", Ends: "13:00", Zone: "America/New_York", Expected: 90,
			Routes: []event.Route{clinic("Larkfield Free Clinic", "555 0111", "2 Invented Lane", "Monday to Friday", "no insurance needed")},
			Urgent: clinic("Larkfield Urgent Care", "555 0112", "3 Invented Lane", "every day", ""),
		},
	}
}

// untested says which tickets were not tested and why.
var untested = map[int]string{
	3: "known", 9: "known", 14: "known", 20: "known", 27: "known", 35: "known", 48: "known", 60: "known", 71: "known",
	17: "young", 40: "pregnant", 22: "declined", 66: "declined", 12: "left", 55: "left", 79: "left",
}

// fasting tickets with their values: 7 usual, 3 raised, 1 high.
var fasting = map[int]string{2: "88", 6: "94", 11: "79", 19: "99", 25: "91", 33: "85", 46: "97", 8: "100", 38: "112", 59: "125", 64: "131"}

// special random tickets.
var special = map[int]string{
	31: "268", 44: "66", 52: "412", 58: "214", 70: "238",
	5: "140", 13: "156", 24: "163", 37: "148", 50: "171", 62: "187", 74: "199", 82: "144",
}

func arrival(s *Stage, t int) time.Time {
	at := func(clock string, from int, step time.Duration) time.Time {
		return s.Time(clock).Add(time.Duration(t-from) * step)
	}
	switch {
	case t <= 25:
		return at("09:00", 1, 2*time.Minute)
	case t <= 31:
		return at("10:00", 26, 10*time.Second)
	case t <= 55:
		return at("10:03", 32, 132*time.Second)
	case t <= 74:
		return at("11:01", 56, 3*time.Minute)
	}
	return at("12:01", 75, 330*time.Second)
}

// reading is when the tested participant of a rank (1 to 68) is read.
func reading(s *Stage, rank int) time.Time {
	at := func(clock string, from int, step time.Duration) time.Time {
		return s.Time(clock).Add(time.Duration(rank-from) * step)
	}
	switch {
	case rank <= 18:
		return at("09:08", 1, 165*time.Second)
	case rank <= 22:
		return at("10:02", 19, 40*time.Second)
	case rank == 23:
		return s.Time("10:05")
	case rank <= 33:
		return at("10:09", 24, 3*time.Minute)
	case rank == 34:
		return s.Time("10:40")
	case rank <= 40:
		return at("10:44", 35, 200*time.Second)
	case rank == 41:
		return s.Time("11:05")
	case rank <= 43:
		return at("11:09", 42, 4*time.Minute)
	}
	return at("11:36", 44, 210*time.Second)
}
