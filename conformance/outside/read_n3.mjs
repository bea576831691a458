// Reads N-Triples, N-Quads and Turtle with N3.js and answers in N-Quads.
import { Parser } from "n3";
import { nquads, serve } from "./frames.mjs";

const formats = { ntriples: "N-Triples", nquads: "N-Quads", turtle: "Turtle" };

await serve(({ syntax, base }, body) =>
  nquads(new Parser({ format: formats[syntax], baseIRI: base, blankNodePrefix: "b" }).parse(body)));
