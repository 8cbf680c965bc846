package web

// setupRoutes are the pages of the programme, its protocol, its people and the loading of lists.
var setupRoutes = []Route{
	{Method: "GET", Path: "/setup", Roles: lead, Handle: setupShow},
	{Method: "GET", Path: "/setup/programme", Roles: lead, Handle: programmeShow},
	{Method: "POST", Path: "/setup/programme", Roles: lead, Handle: programmeSave},
	{Method: "GET", Path: "/setup/protocol", Roles: lead, Handle: protocolShow},
	{Method: "GET", Path: "/setup/protocol/document", Roles: lead, Handle: protocolDocument},
	{Method: "POST", Path: "/setup/protocol/upload", Roles: lead, Upload: true, Handle: protocolUpload},
	{Method: "POST", Path: "/setup/protocol/sign", Roles: lead, Handle: protocolSign},
	{Method: "GET", Path: "/setup/protocol/edit", Roles: lead, Handle: protocolEdit},
	{Method: "POST", Path: "/setup/protocol/edit", Roles: lead, Upload: true, Handle: protocolSave},
	{Method: "GET", Path: "/setup/protocol/training", Roles: lead, Handle: trainingRulesEdit},
	{Method: "POST", Path: "/setup/protocol/training", Roles: lead, Handle: trainingRulesSave},

	{Method: "GET", Path: "/setup/questions", Roles: lead, Handle: questionsShow},
	{Method: "POST", Path: "/setup/questions", Roles: lead, Handle: questionsSave},

	{Method: "GET", Path: "/setup/languages", Roles: lead, Handle: languagesShow},
	{Method: "GET", Path: "/setup/languages/{lang}", Roles: lead, Handle: languageShow},
	{Method: "GET", Path: "/setup/languages/{lang}/words.csv", Roles: lead, Handle: languageWords},
	{Method: "GET", Path: "/setup/languages/{lang}/slip.pdf", Roles: lead, Handle: languageSlip},
	{Method: "POST", Path: "/setup/languages/{lang}/offer", Roles: lead, Handle: languageOffer},
	{Method: "POST", Path: "/setup/languages/{lang}/words", Roles: lead, Upload: true, Handle: languageWrite},
	{Method: "POST", Path: "/setup/languages/{lang}/review", Roles: lead, Handle: languageReview},

	{Method: "GET", Path: "/people", Handle: peopleShow},
	{Method: "POST", Path: "/people", Roles: lead, Handle: personAdd},
	{Method: "GET", Path: "/people/new", Roles: lead, Handle: personNew},
	{Method: "GET", Path: "/people/{person}", Roles: senior, Handle: personShow},
	{Method: "POST", Path: "/people/{person}", Roles: lead, Handle: personSave},
	{Method: "POST", Path: "/people/{person}/pin", Roles: lead, Handle: personPIN},
	{Method: "POST", Path: "/people/{person}/verify", Roles: senior, Handle: personVerify},
	{Method: "POST", Path: "/people/{person}/withdraw", Roles: senior, Handle: personWithdraw},
	{Method: "POST", Path: "/people/{person}/leave", Roles: lead, Handle: personLeave},
	{Method: "POST", Path: "/people/{person}/return", Roles: lead, Handle: personReturn},

	{Method: "GET", Path: "/lists/{list}/import", Roles: lead, Handle: importShow},
	{Method: "POST", Path: "/lists/{list}/import", Roles: lead, Upload: true, Handle: importList},
	{Method: "GET", Path: "/lists/{list}/example.csv", Roles: lead, Handle: importExample},
}

// stockRoutes are the pages of meters, strips, controls, disinfectants and other consumables.
var stockRoutes = []Route{
	{Method: "GET", Path: "/meters", Handle: metersShow},
	{Method: "POST", Path: "/meters", Roles: lead, Handle: meterAdd},
	{Method: "GET", Path: "/meters/new", Roles: lead, Handle: meterNew},
	{Method: "GET", Path: "/meters/{meter}", Handle: meterShow},
	{Method: "POST", Path: "/meters/{meter}", Roles: lead, Handle: meterSave},
	{Method: "POST", Path: "/meters/{meter}/review", Roles: senior, Handle: meterReview},
	{Method: "POST", Path: "/meters/{meter}/return", Roles: senior, Handle: meterReturn},
	{Method: "POST", Path: "/meters/{meter}/quarantine", Roles: senior, Handle: meterQuarantine},

	{Method: "GET", Path: "/strips", Handle: stripsShow},
	{Method: "POST", Path: "/strips", Roles: lead, Handle: stripAdd},
	{Method: "GET", Path: "/strips/new", Roles: lead, Handle: stripNew},
	{Method: "GET", Path: "/strips/{lot}", Handle: stripShow},
	{Method: "POST", Path: "/strips/{lot}", Roles: lead, Handle: stripSave},
	{Method: "POST", Path: "/strips/{lot}/open", Handle: stripOpen},
	{Method: "POST", Path: "/strips/{lot}/throw", Handle: stripThrow},
	{Method: "POST", Path: "/strips/{lot}/withdraw", Roles: senior, Handle: stripWithdraw},

	{Method: "GET", Path: "/controls-solution", Handle: solutionsShow},
	{Method: "POST", Path: "/controls-solution", Roles: lead, Handle: solutionAdd},
	{Method: "GET", Path: "/controls-solution/new", Roles: lead, Handle: solutionNew},
	{Method: "GET", Path: "/controls-solution/{lot}", Handle: solutionShow},
	{Method: "POST", Path: "/controls-solution/{lot}", Roles: lead, Handle: solutionSave},
	{Method: "POST", Path: "/controls-solution/{lot}/open", Handle: solutionOpen},
	{Method: "POST", Path: "/controls-solution/{lot}/throw", Handle: solutionThrow},

	{Method: "GET", Path: "/disinfectants", Handle: wipesShow},
	{Method: "POST", Path: "/disinfectants", Roles: lead, Handle: wipeAdd},
	{Method: "GET", Path: "/disinfectants/new", Roles: lead, Handle: wipeNew},
	{Method: "GET", Path: "/disinfectants/{disinfectant}", Roles: lead, Handle: wipeShow},
	{Method: "POST", Path: "/disinfectants/{disinfectant}", Roles: lead, Handle: wipeSave},

	{Method: "GET", Path: "/supplies", Handle: suppliesShow},
	{Method: "POST", Path: "/supplies", Roles: lead, Handle: supplyAdd},
	{Method: "GET", Path: "/supplies/new", Roles: lead, Handle: supplyNew},
	{Method: "GET", Path: "/supplies/{supply}", Roles: lead, Handle: supplyShow},
	{Method: "POST", Path: "/supplies/{supply}", Roles: lead, Handle: supplySave},
}

// eventRoutes are the pages that plan an event and its roster.
var eventRoutes = []Route{
	{Method: "GET", Path: "/events", Handle: eventsShow},
	{Method: "POST", Path: "/events", Roles: lead, Handle: eventAdd},
	{Method: "GET", Path: "/events/new", Roles: lead, Handle: eventNew},
	{Method: "GET", Path: "/events/{event}", Handle: eventShow},
	{Method: "POST", Path: "/events/{event}", Roles: lead, Handle: eventSave},
	{Method: "GET", Path: "/events/{event}/roster", Handle: rosterShow},
	{Method: "POST", Path: "/events/{event}/roster", Roles: senior, Handle: rosterPost},
	{Method: "POST", Path: "/events/{event}/roster/here", Handle: rosterHere},
	{Method: "POST", Path: "/events/{event}/roster/override", Roles: senior, Handle: rosterOverride},
}
