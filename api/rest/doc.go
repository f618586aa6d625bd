// Package rest is the service over HTTP: the use cases of package api as JSON, under
// paths of plural nouns. routes.go is the one table of what there is: method, path, the
// act that it takes, what does it. openapi.yaml says the same to programs, and a test
// keeps the two alike.
//
// A request goes through one gate, in gate.go: who asks, whether they may, whether they
// ask too often, whether another site made their browser ask. Then it is carried out,
// once if it bears an Idempotency-Key, and what it tried is put on the trail. Whatever
// is refused, by us or by the framework, is a problem of RFC 9457 that says what to do.
//
// Answers of the planner have the shapes of package wire, which are those of the
// command line. Named parts of the plant have the keys of the plant file.
//
// Deliberately absent: what may be done and what follows from it (package api), where it
// is kept, pages for people, and compression, which a proxy does better.
package rest
