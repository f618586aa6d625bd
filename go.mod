module wetdown

go 1.26

require (
	github.com/go-air/gini v1.0.4 // indirect
	github.com/rickar/cal/v2 v2.1.13 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
