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
