package web

// comparisonRoutes are the pages of comparisons of a meter with a laboratory.
var comparisonRoutes = []Route{
	{Method: "GET", Path: "/quality/comparisons", Roles: senior, Handle: comparisonsShow},
	{Method: "GET", Path: "/quality/comparisons/new", Roles: senior, Handle: comparisonNew},
	{Method: "POST", Path: "/quality/comparisons/new", Roles: senior, Upload: true, Handle: comparisonAdd},
	{Method: "GET", Path: "/quality/comparisons/{comparison}", Roles: senior, Handle: comparisonShow},
	{Method: "POST", Path: "/quality/comparisons/{comparison}/withdraw", Roles: senior, Handle: comparisonWithdraw},
	{Method: "GET", Path: "/quality/comparisons/{comparison}/report.pdf", Roles: senior, Handle: comparisonPDF},
	{Method: "GET", Path: "/quality/comparisons/{comparison}/pairs.csv", Roles: senior, Handle: comparisonCSV},
}
