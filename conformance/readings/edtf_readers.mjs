// Reads strings of EDTF, one JSON string a line, with two independent readers and
// writes for each line {"edtf": [ok, first, last], "core": [ok, first, last]}.
// first and last are days (ISO 8601, extended years) or null where there is none.
import { createInterface } from 'node:readline'
import edtf from 'edtf'
import { parse } from '@edtf-ts/core'

// day turns milliseconds or a date into a day; the ends of what a JavaScript
// date can hold stand for no end.
function day(t) {
  const ms = t === null || t === undefined ? NaN : Number(t)
  if (!Number.isFinite(ms) || ms <= -8.64e15 || ms >= 8.64e15) return null
  return new Date(ms).toISOString().slice(0, -14).replace(/^([+-])00/, '$1').replace(/^\+/, '')
}

function byEdtf(s) {
  try {
    const d = edtf(s)
    return [true, day(d.min), day(d.max)]
  } catch {
    return [false, null, null]
  }
}

function byCore(s) {
  try {
    const r = parse(s)
    return r.success ? [true, day(r.value.min), day(r.value.max)] : [false, null, null]
  } catch {
    return [false, null, null]
  }
}

for await (const line of createInterface({ input: process.stdin })) {
  const s = JSON.parse(line)
  process.stdout.write(JSON.stringify({ edtf: byEdtf(s), core: byCore(s) }) + '\n')
}
