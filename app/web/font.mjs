// A font with fewer glyphs, for a smaller download: those of other scripts lose their outlines and keep their numbers.
//   node font.mjs FROM.ttf TO.ttf
// OpenType 1.9: the tables head, loca, glyf, maxp and cmap (formats 4 and 12).
import { readFileSync, writeFileSync } from 'node:fs';

// Latin, Greek, Cyrillic; punctuation, money, letters like signs, arrows, mathematics; shapes.
const KEPT = [[0x20, 0x24f], [0x2b0, 0x52f], [0x1e00, 0x1eff], [0x2000, 0x22ff], [0x25a0, 0x25ff]];
const DROPPED = new Set(['GPOS', 'GSUB', 'GDEF', 'kern', 'FFTM']);

const [from, to] = process.argv.slice(2);
const font = readFileSync(from);
const tables = new Map();
for (let i = 0; i < font.readUInt16BE(4); i++) {
    const at = 12 + i * 16;
    tables.set(font.toString('latin1', at, at + 4),
        font.subarray(font.readUInt32BE(at + 8), font.readUInt32BE(at + 8) + font.readUInt32BE(at + 12)));
}
const wanted = (code) => KEPT.some(([first, last]) => code >= first && code <= last);

const glyphs = new Set([0]);
const cmap = tables.get('cmap');
for (let i = 0; i < cmap.readUInt16BE(2); i++) {
    const map = cmap.subarray(cmap.readUInt32BE(4 + i * 8 + 4));
    const format = map.readUInt16BE(0);
    if (format === 12) {
        for (let g = 0; g < map.readUInt32BE(12); g++) {
            const [first, last, glyph] = [0, 4, 8].map((byte) => map.readUInt32BE(16 + g * 12 + byte));
            for (let code = first; code <= last; code++) if (wanted(code)) glyphs.add(glyph + code - first);
        }
    } else if (format === 4) {
        const twice = map.readUInt16BE(6);
        for (let s = 0; s < twice; s += 2) {
            const last = map.readUInt16BE(14 + s);
            const first = map.readUInt16BE(16 + twice + s);
            const delta = map.readUInt16BE(16 + 2 * twice + s);
            const range = map.readUInt16BE(16 + 3 * twice + s);
            for (let code = first; code <= last && code < 0xffff; code++) {
                if (!wanted(code)) continue;
                const found = range ? map.readUInt16BE(16 + 3 * twice + s + range + 2 * (code - first)) : code;
                if (!range || found) glyphs.add(found + delta & 0xffff);
            }
        }
    }
}

const count = tables.get('maxp').readUInt16BE(4);
const long = tables.get('head').readInt16BE(50) === 1;
const loca = tables.get('loca');
const glyf = tables.get('glyf');
const place = (i) => (long ? loca.readUInt32BE(i * 4) : loca.readUInt16BE(i * 2) * 2);
const outline = (i) => glyf.subarray(place(i), place(i + 1));
// A composite names its parts.
const open = [...glyphs];
while (open.length) {
    const bytes = outline(open.pop());
    if (bytes.length < 12 || bytes.readInt16BE(0) >= 0) continue;
    for (let at = 10, flags = 0x20; flags & 0x20;) {
        flags = bytes.readUInt16BE(at);
        const part = bytes.readUInt16BE(at + 2);
        if (!glyphs.has(part)) {
            glyphs.add(part);
            open.push(part);
        }
        at += 4 + (flags & 1 ? 4 : 2) + (flags & 8 ? 2 : flags & 0x40 ? 4 : flags & 0x80 ? 8 : 0);
    }
}

const outlines = [];
const places = Buffer.alloc((count + 1) * 4);
let end = 0;
for (let i = 0; i < count; i++) {
    places.writeUInt32BE(end, i * 4);
    if (!glyphs.has(i)) continue;
    const bytes = outline(i);
    outlines.push(bytes, Buffer.alloc((4 - bytes.length % 4) % 4));
    end += bytes.length + (4 - bytes.length % 4) % 4;
}
places.writeUInt32BE(end, count * 4);
const head = Buffer.from(tables.get('head'));
head.writeInt16BE(1, 50);
tables.set('glyf', Buffer.concat(outlines)).set('loca', places).set('head', head);

const names = [...tables.keys()].filter((name) => !DROPPED.has(name)).sort();
const table = Buffer.alloc(12 + names.length * 16);
table.writeUInt32BE(0x00010000, 0);
table.writeUInt16BE(names.length, 4);
const power = 2 ** Math.floor(Math.log2(names.length));
table.writeUInt16BE(power * 16, 6);
table.writeUInt16BE(Math.log2(power), 8);
table.writeUInt16BE((names.length - power) * 16, 10);
const parts = [table];
let at = table.length;
names.forEach((name, i) => {
    const bytes = tables.get(name);
    const padded = Buffer.concat([bytes, Buffer.alloc((4 - bytes.length % 4) % 4)]);
    let sum = 0;
    for (let b = 0; b < padded.length; b += 4) sum = sum + padded.readUInt32BE(b) >>> 0;
    table.write(name, 12 + i * 16, 'latin1');
    table.writeUInt32BE(sum, 12 + i * 16 + 4);
    table.writeUInt32BE(at, 12 + i * 16 + 8);
    table.writeUInt32BE(bytes.length, 12 + i * 16 + 12);
    parts.push(padded);
    at += padded.length;
});
writeFileSync(to, Buffer.concat(parts));
