// Draws Railside's icon, a sine between the two rails that clips at the upper one, and writes it as PNG files.
//   node icons.mjs FOLDER
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { crc32, deflateSync } from 'node:zlib';

const GROUND = [0x12, 0x15, 0x17];
const PLUS = [0xff, 0xb4, 0x54];
const MINUS = [0x7c, 0xc0, 0xff];
const INK = [0xf4, 0xf0, 0xe6];

/// The colour at x, y in 0..1 of the icon's own square; null outside of every shape.
function shapeAt(x, y) {
    const rail = (at) => Math.hypot(Math.max(0, Math.abs(x - 0.5) - 0.34), y - at) < 0.028;
    if (rail(0.25)) return PLUS;
    if (rail(0.75)) return MINUS;
    if (x < 0.12 || x > 0.88 || y < 0.28 || y > 0.76) return null;
    const height = (at) => Math.max(0.315, 0.5 - 0.235 * Math.sin((at - 0.15) / 0.7 * 4 * Math.PI));
    // The distance to the curve, along it: fine enough steps for what is drawn.
    let nearest = 1;
    for (let step = -10; step <= 10; step++) {
        const at = Math.min(0.85, Math.max(0.15, x + step * 0.0024));
        nearest = Math.min(nearest, Math.hypot(at - x, height(at) - y));
    }
    return nearest < 0.022 ? INK : null;
}

function chunk(name, data) {
    const whole = Buffer.alloc(data.length + 12);
    whole.writeUInt32BE(data.length, 0);
    whole.write(name, 4, 'latin1');
    data.copy(whole, 8);
    whole.writeUInt32BE(crc(whole.subarray(4, data.length + 8)), data.length + 8);
    return whole;
}

/// ISO 3309, for a node whose zlib does not have it yet.
function crc(bytes) {
    if (crc32) return crc32(bytes);
    let c = 0xffffffff;
    for (const byte of bytes) {
        c ^= byte;
        for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ c >>> 1 : c >>> 1;
    }
    return ~c >>> 0;
}

/// `inner`: how much of the side the icon's square takes; `round`: corners cut off.
function icon(side, inner, round) {
    const samples = side < 400 ? 3 : 2;
    const rows = Buffer.alloc(side * (side * 4 + 1));
    for (let py = 0; py < side; py++) {
        for (let px = 0; px < side; px++) {
            const sum = [0, 0, 0, 0];
            for (let s = 0; s < samples * samples; s++) {
                const x = (px + (s % samples + 0.5) / samples) / side;
                const y = (py + (Math.floor(s / samples) + 0.5) / samples) / side;
                const radius = 0.18;
                const outside = round && Math.hypot(Math.max(0, Math.abs(x - 0.5) - 0.5 + radius),
                    Math.max(0, Math.abs(y - 0.5) - 0.5 + radius)) > radius;
                if (outside) continue;
                const colour = shapeAt((x - 0.5) / inner + 0.5, (y - 0.5) / inner + 0.5) || GROUND;
                for (let c = 0; c < 3; c++) sum[c] += colour[c];
                sum[3] += 1;
            }
            const at = py * (side * 4 + 1) + 1 + px * 4;
            for (let c = 0; c < 3; c++) rows[at + c] = sum[3] ? Math.round(sum[c] / sum[3]) : 0;
            rows[at + 3] = Math.round(255 * sum[3] / (samples * samples));
        }
    }
    const head = Buffer.alloc(13);
    head.writeUInt32BE(side, 0);
    head.writeUInt32BE(side, 4);
    head.set([8, 6, 0, 0, 0], 8);
    return Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10]), chunk('IHDR', head),
        chunk('IDAT', deflateSync(rows, { level: 9 })), chunk('IEND', Buffer.alloc(0))]);
}

const folder = process.argv[2];
mkdirSync(folder, { recursive: true });
writeFileSync(join(folder, 'icon-180.png'), icon(180, 1, false));
writeFileSync(join(folder, 'icon-192.png'), icon(192, 1, true));
writeFileSync(join(folder, 'icon-512.png'), icon(512, 1, true));
writeFileSync(join(folder, 'maskable-512.png'), icon(512, 0.78, false));
