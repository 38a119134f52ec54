// The main job through the types that openapi-typescript generates.
import createClient from "openapi-fetch";
import type { components, paths } from "./etui.js";

declare const process: { env: Record<string, string>; exit(code: number): never };

const client = createClient<paths>({
  baseUrl: process.env.ETUI_BASE,
  headers: { Authorization: `Bearer ${process.env.ETUI_TOKEN}` },
});

const body: components["schemas"]["AppointmentCheckRequest"] = {
  booking_ref: "typescript-1",
  treatment: "brows",
  effect: "hair_strokes",
  starts_at: new Date(Date.now() + 21 * 24 * 3600 * 1000).toISOString(),
  born_on: "1984-05-02",
  candidates: ["0.20 1RL", "0.30 3RL", "0.30 9M1"],
};
const made = await client.POST("/v1/appointment-checks", { body });
if (made.error) {
  console.error("refused:", made.error.detail, made.error.errors);
  process.exit(1);
}
console.log(made.data.verdict, "-", made.data.summary);

const read = await client.GET("/v1/appointment-checks/{id}", { params: { path: { id: made.data.id } } });
if (JSON.stringify(read.data) !== JSON.stringify(made.data)) {
  console.error("the check is not read as it was given");
  process.exit(1);
}

const refused = await client.POST("/v1/appointment-checks", { body: { ...body, booking_ref: "two words" } });
if (refused.response.status !== 422 || refused.error?.errors?.[0]?.pointer !== "#/booking_ref") {
  console.error("not refused as it should be:", refused.response.status, refused.error);
  process.exit(1);
}
console.log("refused as it should be:", refused.error.errors[0].message);
