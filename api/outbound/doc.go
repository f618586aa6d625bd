// Package outbound sends what leaves the house: webhooks to programs, invitations by
// mail to delegations. A Runner does it in the background.
//
// What is due is never told to a Runner. It is found, again and again, by comparing what
// is kept: the log of revisions with how far each webhook was told of it, and
// the visits as they are with what was last mailed about each. Package api makes
// these comparisons and keeps the places reached. So nothing depends on a Runner being
// there when something changes, and several of them may work on one database: what one
// takes belongs to it for two minutes.
//
// # At least once
//
// Nobody can know whether something arrived when the sender dies, or the line breaks,
// between the last byte and the answer. Both kinds are then sent once more, under
// the same name, by which receivers can tell. For webhooks that name is webhook-id,
// which follows from subscription and revision. For mail it is Message-ID, which follows
// from UID, SEQUENCE, the stamp of the revision and what it says; calendars that get the
// same revision twice show it once (RFC 5546 2.1.5). A message whose visit has
// changed meanwhile is not repeated: the next revision says all there is to know. In
// every other case, each is sent once.
//
// # Webhooks
//
// A body has type, timestamp and data, and is signed as the open Standard Webhooks
// specification says: HMAC-SHA256 over id, timestamp and body. It carries ids, days and
// states, and nothing about people. Each webhook gets its news in order; what it
// does not take with an answer of 2xx is tried again after pauses that double, from
// some ten seconds to an hour. After some days, or at once when it answers 410, it is
// given up until a person resumes it. An answer that leads elsewhere counts as a no.
// Connections go to public addresses only, unless the configuration allows others. That
// is looked at when a connection is made, so that no name can hide an address.
//
// # Mail
//
// A message is a text and, as the other way of saying it, a part text/calendar. The
// mail server's 4xx, and everything before it was handed a message, is tried again as
// above; its 5xx to a message is final until the message says something else or a person
// releases it anew. Nothing here knows the address of a person longer than it
// takes to send, and no log has one.
//
// Deliberately absent: what is due, which package api says; answers to invitations, which
// reach the sender's mailbox; and proxies.
package outbound
