module wetdown

go 1.26.0

require (
	github.com/alecthomas/kong v1.17.0 // indirect
	github.com/go-air/gini v1.0.4 // indirect
	github.com/google/go-cmp v0.7.0 // indirect
	github.com/rickar/cal/v2 v2.1.13 // indirect
	github.com/rogpeppe/go-internal v1.16.0 // indirect
	github.com/santhosh-tekuri/jsonschema/v6 v6.0.3 // indirect
	go.yaml.in/yaml/v3 v3.0.6 // indirect
	golang.org/x/sys v0.50.0 // indirect
	golang.org/x/term v0.48.0 // indirect
	golang.org/x/text v0.14.0 // indirect
	golang.org/x/tools v0.26.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
