// Answers SPARQL queries over a file of N-Triples with Oxigraph: ask.mjs FILE QUERY…
// One line of JSON for each query: its variables and its rows, as plain text.
import { readFileSync } from "node:fs";
import { Store } from "oxigraph";

const [file, ...queries] = process.argv.slice(2);
const store = new Store();
store.load(readFileSync(file, "utf8"), { format: "application/n-triples" });
for (const q of queries) {
  const answer = JSON.parse(store.query(readFileSync(q, "utf8"), { results_format: "json" }));
  const vars = answer.head.vars;
  console.log(JSON.stringify({ vars, rows: answer.results.bindings.map((b) => vars.map((v) => b[v]?.value ?? "")) }));
}
