// Reads the same calendars with the JavaScript package `ical.js`, and finds the
// same events in them as the Python reader did (calendars.py).
//
//     node calendars.mjs folder
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const folder = process.argv[2];
const ICAL = createRequire(`${folder}/`)("ical.js");
const parser = ICAL.default ?? ICAL;
const wanted = JSON.parse(readFileSync(`${folder}/events.json`, "utf8"));
let seen = 0;
for (const [name, events] of Object.entries(wanted)) {
  const calendar = new parser.Component(parser.parse(readFileSync(`${folder}/${name}`, "utf8")));
  const found = calendar.getAllSubcomponents("vevent").map((one) => {
    const event = new parser.Event(one);
    return [event.uid, event.startDate, event.summary];
  });
  const byUid = new Map(found.map(([uid, start, summary]) => [uid, [start, summary]]));
  if (byUid.size !== events.length) throw new Error(`${name}: ${byUid.size} events instead of ${events.length}`);
  for (const [uid, start, summary] of events) {
    const [otherStart, otherSummary] = byUid.get(uid) ?? [];
    const same = otherStart && (otherStart.isDate
      ? otherStart.toString() === start
      : otherStart.toJSDate().getTime() === new Date(start).getTime());
    if (!same || otherSummary !== summary) throw new Error(`${name}: ${uid}: ${start} ${summary} is read as ${otherStart} ${otherSummary}`);
    seen += 1;
  }
}
console.log(`${seen} events read alike`);
