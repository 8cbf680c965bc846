package web

// trainingRoutes are the pages on which a lead and the supervisors train and verify the people. An observation is filled in on the
// verifier's phone and proved by two PINs.
var trainingRoutes = []Route{
	{Method: "GET", Path: "/training", Roles: senior, Handle: trainingShow},
	{Method: "GET", Path: "/training/check", Roles: senior, Handle: trainingCheck},
	{Method: "GET", Path: "/training/statistics", Roles: senior, Handle: trainingStatistics},
	{Method: "GET", Path: "/training/agreement", Roles: senior, Handle: agreementShow},
	{Method: "GET", Path: "/training/record", Roles: senior, Handle: staffRecordShow},
	{Method: "GET", Path: "/training/record.pdf", Roles: senior, Handle: staffRecordPDF},
	{Method: "GET", Path: "/training/{person}", Roles: senior, Handle: traineeShow},
	{Method: "GET", Path: "/training/{person}/quiz/{quiz}", Roles: senior, Handle: traineeQuiz},
	{Method: "GET", Path: "/training/{person}/observe", Roles: test, Handle: observeShow},
	{Method: "POST", Path: "/training/{person}/observe", Roles: test, Handle: observeRecord},
	{Method: "GET", Path: "/training/{person}/certificate.pdf", Roles: senior, Handle: certificatePDF},
	{Method: "POST", Path: "/training/{person}/external", Roles: senior, Handle: traineeExternal},
	{Method: "POST", Path: "/training/{person}/model", Roles: senior, Handle: traineeModel},
	{Method: "POST", Path: "/training/{person}/practice", Roles: senior, Handle: traineePractice},
	{Method: "POST", Path: "/training/{person}/teach", Roles: senior, Handle: traineeTeach},
	{Method: "POST", Path: "/training/{person}/warm-up", Roles: senior, Handle: traineeWarmUp},
	{Method: "POST", Path: "/training/{person}/grant", Roles: senior, Handle: traineeGrant},
	{Method: "POST", Path: "/training/{person}/withdraw", Roles: senior, Handle: traineeWithdraw},
}
