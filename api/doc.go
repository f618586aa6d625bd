// Package api is the application: what people and programs may do with a plant
// that is kept, and the records that come of it. Each use case is a method of App.
//
// A plant is kept as numbered, immutable revisions. A use case that changes the
// plant reads the newest one, makes the next one out of it, has it looked at, and
// stores what differs together with everything that follows from it (calls to make,
// messages to send) in one transaction, or nothing at all. When somebody was faster it
// starts over from their revision, and refuses if what was asked no longer fits.
//
// Deliberately absent: HTTP, SQL, files, and mail, which live in the packages below
// this one, and planning, which package solver does. Nothing here reads a clock
// but the one in App.
package api
