// Package ical writes invitations and feeds for calendars: objects of RFC 5545
// (iCalendar), sent by the methods of RFC 5546 (iTIP), with a name and a refresh
// interval for feeds by RFC 7986.
//
// An Event is one entry of a calendar as a plain value. Request, Cancel and Feed
// write events; Next says which revision a changed event is. Visit says what the
// invitation to one visit tells its delegation; Bay, Crew and Customer read the
// events of a feed off the plan in force.
//
// # What is written, and what is not
//
// Times are local to the plant and name its zone, with the zone's changes of clock
// beside them for every year that the events touch. They are written out change by
// change, not as rules, so that they are those of the zone database. A clock time
// that occurs twice means its first pass (RFC 5545 3.3.5) and is written in UTC; one
// that never occurs means the instant of the change, as everywhere in this program,
// and is written as the clock time that the change leads to.
//
// Whatever comes from people is text and stays text: control characters are left
// out, ends of lines are escaped, values of parameters stand in quotes. Addresses
// and links are refused where they could say anything else.
//
// What goes to a customer is about that customer's visits only. Prices, damages,
// defects and other customers are never in it, nor is anything in it that the
// plan's own tiers say.
//
// Deliberately absent: reading calendars and answers, sending anything, the
// present time (stamps are handed in), and repeating events.
package ical
