// Expands JSON-LD with jsonld.js and answers in N-Quads. The arguments are pairs
// of a context's address and the file that holds it; no other address is loaded.
import { readFile } from "node:fs/promises";
import jsonld from "jsonld";
import { nquads, serve } from "./frames.mjs";

const documents = new Map();
for (let i = 2; i + 1 < process.argv.length; i += 2) {
  documents.set(process.argv[i], JSON.parse(await readFile(process.argv[i + 1], "utf8")));
}

async function documentLoader(url) {
  if (!documents.has(url)) throw new Error(`the address ${url} is not among the files given`);
  return { contextUrl: null, documentUrl: url, document: documents.get(url) };
}

await serve(async ({ base }, body) =>
  nquads(await jsonld.toRDF(JSON.parse(body), { base, documentLoader, safe: true })));
