package rest

import (
	_ "embed"
	"net/http"
	"sync"
)

//go:embed openapi.yaml
var openAPI []byte

// description is what openapi.yaml says, as JSON.
var description = sync.OnceValues(func() ([]byte, error) { return toJSON(openAPI) })

func getOpenAPI(x *exchange) error {
	body, err := description()
	if err != nil {
		return err
	}
	return x.JSONBlob(http.StatusOK, body)
}
