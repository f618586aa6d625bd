module wetdown

go 1.26.0

require (
	github.com/alecthomas/kong v1.17.0
	github.com/go-air/gini v1.0.4
	github.com/google/go-cmp v0.7.0
	github.com/rickar/cal/v2 v2.1.13
	github.com/rogpeppe/go-internal v1.16.0
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3
	go.yaml.in/yaml/v3 v3.0.6
	golang.org/x/term v0.48.0
	pgregory.net/rapid v1.3.0
)

require (
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/text v0.14.0 // indirect
	golang.org/x/tools v0.26.0 // indirect
)
