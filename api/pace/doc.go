// Package pace bounds how often something is done by each of many names: clients,
// addresses, logins.
//
// Deliberately absent: a clock, locks, and anything that is kept longer than the
// process.
package pace
