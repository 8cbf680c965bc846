package web

// learnRoutes are the pages on which anybody who is signed in learns alone. A quiz is always one's own.
var learnRoutes = []Route{
	{Method: "GET", Path: "/learn", Handle: learnShow},
	{Method: "GET", Path: "/learn/steps/{number}", Handle: learnStep},
	{Method: "GET", Path: "/learn/quiz", Handle: quizStart},
	{Method: "GET", Path: "/learn/quiz/{level}/{place}", Handle: quizQuestion},
	{Method: "POST", Path: "/learn/quiz/{level}/{place}", Handle: quizAnswer},
	{Method: "GET", Path: "/learn/quiz/{level}/hand-in", Handle: quizEnd},
	{Method: "POST", Path: "/learn/quiz/{level}/hand-in", Handle: quizHandIn},
	{Method: "GET", Path: "/learn/results/{quiz}", Handle: quizResult},
}
