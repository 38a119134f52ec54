// Reads with the Zod schemas that a generator makes of the document what `newer.py bodies` writes: every
// recorded body, and answers with a word that is new in each open list.
//
//     python newer.py bodies openapi openapi/openapi.json | node newer.mjs zod.gen.js

import readline from "node:readline";
import path from "node:path";

const models = await import(path.resolve(process.argv[2]));
const seen = new Set(), wrong = [];
let whole = 0;
for await (const line of readline.createInterface({ input: process.stdin })) {
    const [called, name, body, list, way] = JSON.parse(line);
    const model = models[`z${name}`];
    const read = model?.safeParse(body);
    const word = read?.success && way.reduce((value, step) => value[step], read.data);
    const faults = read?.error?.issues.slice(0, 2).map((fault) => `${fault.path.join("/")}: ${fault.message}`);
    if (!read?.success) wrong.push(`${called}: ${list ?? "as recorded"}: ${faults?.join("; ") ?? `no model of ${name}`}`);
    else if (list === null) whole += 1;
    else if (word === "never_heard_of") seen.add(list);
    else wrong.push(`${called}: ${list} is read as ${JSON.stringify(word)}`);
}
if (wrong.length) console.log(wrong.join("\n"));
console.log(`${whole} bodies read whole, ${seen.size} open lists survive a word that is new, ${wrong.length} faults`);
process.exit(wrong.length || !seen.size ? 1 : 0);
