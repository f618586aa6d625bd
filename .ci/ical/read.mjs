// Reads iCalendar objects with ical.js and says what is in them, for the tests of
// api/ical. Standard input: a JSON list of texts. Standard output: a JSON list with
// one object for each. Instants are seconds since 1970 by the VTIMEZONE in the text.
import { readFileSync } from "node:fs";
import ICAL from "ical.js";

// ical.js knows the properties of RFC 5545; NAME is one of RFC 7986 (5.1), a text.
ICAL.design.icalendar.property.name = { defaultType: "text" };

const list = JSON.parse(readFileSync(0, "utf8"));

function instant(component, name, zones) {
  const property = component.getFirstProperty(name);
  if (!property) return 0;
  const time = property.getFirstValue();
  const tzid = property.getParameter("tzid");
  if (tzid) {
    if (!zones.has(tzid)) throw new Error(`no VTIMEZONE for ${tzid}`);
    time.zone = zones.get(tzid);
  }
  return time.toUnixTime();
}

function person(property) {
  return {
    Name: property.getParameter("cn") ?? "",
    Mail: property.getFirstValue(),
    Role: property.getParameter("role") ?? "",
    Answer: property.getParameter("partstat") ?? "",
    Wanted: property.getParameter("rsvp") ?? "",
  };
}

function event(component, zones) {
  const text = (name) => component.getFirstPropertyValue(name) ?? "";
  return {
    UID: text("uid"),
    Sequence: text("sequence"),
    Status: text("status"),
    Start: instant(component, "dtstart", zones),
    End: instant(component, "dtend", zones),
    Stamp: instant(component, "dtstamp", zones),
    LastModified: instant(component, "last-modified", zones),
    Summary: text("summary"),
    Location: text("location"),
    Description: text("description"),
    URL: text("url"),
    Organizer: person(component.getFirstProperty("organizer")),
    Attendees: component.getAllProperties("attendee").map(person),
    Properties: component.getAllProperties().map((p) => p.name.toUpperCase()).sort(),
  };
}

function calendar(text) {
  const root = new ICAL.Component(ICAL.parse(text));
  const zones = new Map();
  for (const component of root.getAllSubcomponents("vtimezone")) {
    const zone = new ICAL.Timezone(component);
    zones.set(zone.tzid, zone);
  }
  const refresh = root.getFirstPropertyValue("refresh-interval");
  return {
    Method: root.getFirstPropertyValue("method") ?? "",
    Name: root.getFirstPropertyValue("name") ?? "",
    Refresh: refresh ? refresh.toSeconds() : 0,
    Zones: [...zones.keys()].sort(),
    Properties: root.getAllProperties().map((p) => p.name.toUpperCase()).sort(),
    Events: root.getAllSubcomponents("vevent").map((c) => event(c, zones)),
  };
}

process.stdout.write(JSON.stringify(list.map(calendar)));
