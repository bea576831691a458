// Canonicalises N-Quads by RDFC-1.0 with rdf-canonize and the hash that the
// syntax field of a request names.
import { createHash } from "node:crypto";
import canonize from "rdf-canonize";
import { serve } from "./frames.mjs";

class Digest {
  constructor(name) {
    this.hash = createHash(name);
  }
  update(text) {
    this.hash.update(text, "utf8");
  }
  digest() {
    return this.hash.digest("hex");
  }
}

await serve(({ syntax }, body) =>
  canonize.canonize(body, {
    algorithm: "RDFC-1.0",
    inputFormat: "application/n-quads",
    format: "application/n-quads",
    createMessageDigest: () => new Digest(syntax),
    maxWorkFactor: 3,
  }));
