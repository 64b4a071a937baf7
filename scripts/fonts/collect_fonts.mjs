// Unwraps the WOFF files of the installed packages into plain TrueType/OpenType files, sorted by use:
// <out>/<use>/<family>[-bold|-italic].ttf. Text shaping reads plain fonts only, hence the unwrapping.
// WOFF 1.0 (W3C Recommendation, 2012): a table directory and zlib-compressed tables.
import fs from 'node:fs';
import path from 'node:path';
import zlib from 'node:zlib';

const [packages, out] = process.argv.slice(2);
const { use } = JSON.parse(fs.readFileSync(new URL('package.json', import.meta.url)));

function unwrap_woff(woff) {
  if (woff.toString('latin1', 0, 4) !== 'wOFF') throw new Error('not a WOFF 1.0 file');
  const count = woff.readUInt16BE(12);
  const tables = [];
  for (let i = 0; i < count; ++i) {
    const entry = 44 + 20 * i;
    const offset = woff.readUInt32BE(entry + 4);
    const packed = woff.subarray(offset, offset + woff.readUInt32BE(entry + 8));
    const length = woff.readUInt32BE(entry + 12);
    const data = packed.length < length ? zlib.inflateSync(packed) : packed;
    tables.push({ tag: woff.subarray(entry, entry + 4), checksum: woff.readUInt32BE(entry + 16), data });
  }
  const floor_log2 = Math.floor(Math.log2(count));
  const header = Buffer.alloc(12 + 16 * count);
  woff.copy(header, 0, 4, 8);
  header.writeUInt16BE(count, 4);
  header.writeUInt16BE(16 << floor_log2, 6);
  header.writeUInt16BE(floor_log2, 8);
  header.writeUInt16BE(16 * count - (16 << floor_log2), 10);
  const parts = [header];
  let offset = header.length;
  tables.forEach(({ tag, checksum, data }, i) => {
    tag.copy(header, 12 + 16 * i);
    header.writeUInt32BE(checksum, 16 + 16 * i);
    header.writeUInt32BE(offset, 20 + 16 * i);
    header.writeUInt32BE(data.length, 24 + 16 * i);
    const padding = (4 - (data.length % 4)) % 4;
    parts.push(data, Buffer.alloc(padding));
    offset += data.length + padding;
  });
  return Buffer.concat(parts);
}

const styles = { '400-normal': '', '700-normal': '-bold', '400-italic': '-italic' };
let collected = 0;
for (const [family, kind] of Object.entries(use)) {
  fs.mkdirSync(path.join(out, kind), { recursive: true });
  for (const [style, suffix] of Object.entries(styles)) {
    if (kind === 'hand' && suffix) continue;
    const file = path.join(packages, '@fontsource', family, 'files', `${family}-latin-${style}.woff`);
    if (!fs.existsSync(file)) continue;
    fs.writeFileSync(path.join(out, kind, `${family}${suffix}.ttf`), unwrap_woff(fs.readFileSync(file)));
    ++collected;
  }
}
console.log(`${collected} font files in ${out}`);
