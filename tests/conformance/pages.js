"use strict";
/*
What the judges of pages share: a page in a frame of a width, what must hold of its layout,
and what is written down in the end.
*/
const given = new URLSearchParams(location.hash.slice(1));
const faults = [];
let figures = [];

const sleep = (ms) => new Promise((done) => setTimeout(done, ms));
async function until(what, holds) {
  for (let n = 0; n < 100; n++) { if (holds()) return; await sleep(100); }
  throw new Error(`${what}: it did not come`);
}
const expect = (holds, what) => { if (!holds) faults.push(what); };

// A page in a frame of a width, with what may stand behind its #.
async function framed(width, file, place, ready) {
  const frame = Object.assign(document.createElement("iframe"), { width, height: 800 });
  document.body.append(frame);
  const loaded = new Promise((done) => (frame.onload = done));
  frame.src = `${file}#${new URLSearchParams({ base: given.get("base"), ...place })}`;
  await loaded;
  await until("the page", () => ready(frame.contentDocument));
  return frame;
}
const seen = (element) => element.getClientRects().length > 0;

// Nothing runs out of the page, and whatever is touched is large enough.
function layout(frame, where) {
  const page = frame.contentDocument, width = Number(frame.width);
  expect(page.documentElement.scrollWidth <= width, `${where}: ${page.documentElement.scrollWidth} px wide`);
  const touched = [...page.querySelectorAll("button, select, input, label.option")].filter(seen).filter((one) => !one.closest("label.option") || one.matches("label"));
  for (const one of touched) {
    const { height, right } = one.getBoundingClientRect();
    expect(44 <= height, `${where}: ${one.textContent || one.name} is ${height} px high`);
    expect(right <= width, `${where}: ${one.textContent || one.name} ends at ${right} px`);
  }
  return touched.length;
}

// Writes down what was found, once it was all tried.
async function judged(work) {
  try { await work(); } catch (error) { faults.push(String(error)); }
  document.getElementById("result").textContent = [...figures, ...faults.map((fault) => `fault: ${fault}`), faults.length ? "it does not hold" : "it holds"].join("\n");
}
