package chart_test

import (
	"fmt"

	"fairstick/internal/chart"
)

// A page inlines the SVG of a chart; a report embeds its PNG.
func ExampleLeveyJennings() {
	c := chart.LeveyJennings{
		Text: chart.Text{Title: "Can meter M-03 be trusted?", X: "control run, by date"},
		Panels: []chart.ControlPanel{{
			Y:      "Level 1, mg/dL",
			Levels: chart.SDLines(98, 3.4, 3, 1),
			Bands:  []chart.Band{{Low: 91.2, High: 104.8}},
			Lots:   []chart.Lot{{Before: 3, Label: "strip lot B417"}},
			Runs: []chart.Run{
				{Date: "1 Oct", Value: 97}, {Date: "2 Oct", Value: 109, Kind: chart.Rejected, Note: "1-3s", Action: "new vial"}, {Date: "3 Oct", Value: 99},
			},
		}},
	}
	c.Desc = c.Summary()
	picture, err := c.Draw(chart.Print)
	if err != nil {
		fmt.Println(err)
		return
	}
	svg := picture.SVG()
	raster, err := picture.PNG(300)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(c.Desc, len(svg) > 0, len(raster) > 0, picture.Width())
	// Output: 2 of 3 control results in range, 1 rejected. true true 480
}
