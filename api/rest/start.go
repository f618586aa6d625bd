package rest

import (
	"html"
	"net/http"
	"strings"
)

// getStart is a plain page that says what is here.
func getStart(x *exchange) error {
	var b strings.Builder
	b.WriteString("<!doctype html>\n<html lang=\"en\"><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>Wetdown</title>\n")
	b.WriteString("<h1>Wetdown</h1>\n<p>Inspection visits and delivery dates. The service for programs is described at <a href=\"/openapi.json\">/openapi.json</a>.</p>\n<ul>\n")
	seen := map[string]bool{}
	for _, r := range x.s.routes {
		if first := "/" + strings.Split(r.path, "/")[1]; r.method == http.MethodGet && !strings.Contains(r.path, "{") && !seen[r.path] && first == r.path && first != "/" {
			seen[r.path] = true
			b.WriteString("<li><a href=\"" + r.path + "\">" + html.EscapeString(r.path) + "</a></li>\n")
		}
	}
	b.WriteString("</ul>\n</html>\n")
	return x.HTML(http.StatusOK, b.String())
}
