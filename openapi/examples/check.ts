// What a booking program asks before it confirms an appointment, through the
// types that openapi-typescript generates from the document:
//
//   echo '{"type": "module"}' > package.json
//   npm install openapi-typescript@7.13.0 openapi-fetch@0.17.0 typescript@5
//   npx openapi-typescript $ETUI/openapi.json -o etui.ts
//   npx tsc -p . && node out/check.js booking-2041 2027-04-06T08:00:00Z
//
// ETUI is the address of the service, TOKEN a token with the scope checks:write.
import createClient from "openapi-fetch";
import type { components, paths } from "./etui.js";

declare const process: { argv: string[]; env: Record<string, string | undefined>; exit(code: number): never };

// Whole answers; the short ones have a media type of their own.
const client = createClient<paths, "application/json" | "application/problem+json">({
  baseUrl: process.env.ETUI ?? "http://127.0.0.1:8417",
  headers: { Authorization: `Bearer ${process.env.TOKEN}` },
});

const inThreeWeeks = () => new Date(Date.now() + 21 * 24 * 3600 * 1000).toISOString().slice(0, 11) + "10:00:00Z";
const booking = process.argv[2] ?? "booking-2041";
const startsAt = process.argv[3] ?? inThreeWeeks();

const body: components["schemas"]["AppointmentCheckRequest"] = {
  booking_ref: booking,
  treatment: "brows",
  effect: "hair_strokes",
  starts_at: startsAt,
  born_on: "1984-05-02",
  answers: { pregnant: false, warfarin: false },
  candidates: ["0.20 1RL", "0.30 3RL", "0.30 9M1"],
};
// The booking is the key: however often this runs, the check is made once a day.
const made = await client.POST("/v1/appointment-checks", {
  body,
  params: { header: { "Idempotency-Key": `"${encodeURIComponent(`typescript-${booking}-${startsAt}`)}"` } },
});
if (made.error) {
  for (const fault of made.error.errors ?? []) console.error(fault.pointer, fault.code, fault.message);
  console.error(made.error.status, made.error.code, made.error.detail);
  process.exit(1);
}
// Without a body it comes only to those who ask for none.
if (!made.data) process.exit(1);
console.log(`${made.data.verdict}: ${made.data.summary}`);
for (const todo of made.data.todo) console.log("-", todo.text);

const kept = await client.GET("/v1/appointment-checks/{id}", { params: { path: { id: made.data.id } } });
console.log("kept as", kept.data?.id);
