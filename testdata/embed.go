// Package testdata holds files that programs and tests share, the ones that a
// program hands out among them.
package testdata

import _ "embed"

// ScheduleModel is the MiniZinc model for the data that an export writes.
//
//go:embed schedule.mzn
var ScheduleModel string

// DemoPlant is the plant file of the demo.
//
//go:embed demo/plant.yaml
var DemoPlant string

// DemoHistory is the past of the demo plant: what was projected for trucks in three years,
// and what came of it. It is invented like all of it. A row for a truck that DemoPlant has
// says no other day of line-off or inspection than DemoPlant.
//
//go:embed demo/history.csv
var DemoHistory string
