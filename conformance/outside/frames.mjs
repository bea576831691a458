// Frames of the protocol between the tests and a reader: see reader.go.
// serve(answer) calls answer(head, body) for every request, in order, and sends
// what it returns, or the error it throws.
export async function serve(answer) {
  for await (const { head, body } of requests()) {
    let status = "ok";
    let out;
    try {
      out = await answer(head, body);
    } catch (e) {
      status = "error";
      out = String(e && e.message ? e.message + (e.details ? " " + JSON.stringify(e.details).slice(0, 300) : "") : e);
    }
    const bytes = Buffer.from(out, "utf8");
    const frame = Buffer.concat([Buffer.from(`${status} ${bytes.length}\n`), bytes]);
    if (!process.stdout.write(frame)) {
      await new Promise((done) => process.stdout.once("drain", done));
    }
  }
}

// requests yields what comes in on standard input: a line "SYNTAX BASE LENGTH"
// and LENGTH bytes of UTF-8.
async function* requests() {
  const parts = [];
  let have = 0;
  const gather = () => {
    const all = parts.length === 1 ? parts[0] : Buffer.concat(parts);
    parts.length = 0;
    parts.push(all);
    return all;
  };
  let head = null;
  for await (const chunk of process.stdin) {
    parts.push(chunk);
    have += chunk.length;
    for (;;) {
      if (head === null) {
        const all = gather();
        const end = all.indexOf(10);
        if (end < 0) break;
        const [syntax, base, length] = all.toString("utf8", 0, end).split(" ");
        head = { syntax, base, length: Number(length) };
        parts[0] = all.subarray(end + 1);
        have = parts[0].length;
      }
      if (have < head.length) break;
      const all = gather();
      const body = all.toString("utf8", 0, head.length);
      parts[0] = all.subarray(head.length);
      have = parts[0].length;
      const done = head;
      head = null;
      yield { head: done, body };
    }
  }
}

// nquads writes RDF/JS quads as N-Quads.
export function nquads(quads) {
  let out = "";
  for (const q of quads) {
    out += `${term(q.subject)} ${term(q.predicate)} ${term(q.object)}`;
    if (q.graph.termType !== "DefaultGraph") out += ` ${term(q.graph)}`;
    out += " .\n";
  }
  return out;
}

function term(t) {
  switch (t.termType) {
    case "NamedNode":
      return `<${t.value.replace(/[\x00-\x20<>"{}|^`\\]/g, hex)}>`;
    case "BlankNode":
      return t.value.startsWith("_:") ? t.value : `_:${t.value}`;
    case "Literal": {
      const text = `"${t.value.replace(/[\x00-\x1f"\\\x7f]/g, hex)}"`;
      if (t.language) return `${text}@${t.language}`;
      return `${text}^^<${t.datatype.value}>`;
    }
  }
  throw new Error(`term of kind ${t.termType}`);
}

function hex(c) {
  return "\\u" + c.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0");
}
