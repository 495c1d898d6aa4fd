// Puts the page's folder together: what any web server can give out as it is.
//   node pack.mjs SOURCES BUILT ICONS SITE [WORDS]
// SOURCES: app/web; BUILT: the folder of railside.js and railside.wasm; WORDS: a catalogue made from
// assets/words/railside.pot that the page is to speak by. The scripts lie in a folder named by what is in them, so that
// no cache on the way can mix two versions.
import { createHash } from 'node:crypto';
import { copyFileSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { brotliCompressSync } from 'node:zlib';

const [sources, built, icons, site, words = ''] = process.argv.slice(2);
const GROUND = '#121517';
const scripts = ['page.js', 'store.js', 'pictures.js', 'input.js', 'mirror.js', 'words.js'].map((name) => join(sources, name))
    .concat(['railside.js', 'railside.wasm'].map((name) => join(built, name)));
const shells = ['index.html', 'manifest.webmanifest', 'sw.js'];

const hash = createHash('sha256');
const drawn = readdirSync(icons).sort();
const catalogue = words ? readFileSync(words, 'utf8') : '';
hash.update(catalogue);
for (const file of [...scripts, ...shells.map((name) => join(sources, name)), ...drawn.map((name) => join(icons, name))])
    hash.update(readFileSync(file));
const version = hash.digest('hex').slice(0, 12);
const folder = `v-${version}`;

rmSync(site, { recursive: true, force: true });
mkdirSync(join(site, folder), { recursive: true });
mkdirSync(join(site, 'icons'));
const files = ['./', 'manifest.webmanifest'];
for (const from of scripts) {
    const name = `${folder}/${from.slice(from.lastIndexOf('/') + 1)}`;
    copyFileSync(from, join(site, name));
    files.push(name);
}
if (catalogue) {
    writeFileSync(join(site, folder, 'words.po'), catalogue);
    files.push(`${folder}/words.po`);
}
const [, language = 'en'] = /^"Language: ([A-Za-z-]+)/m.exec(catalogue.replaceAll('_', '-')) || [];
for (const name of drawn) {
    copyFileSync(join(icons, name), join(site, 'icons', name));
    files.push(`icons/${name}`);
}
for (const name of shells) {
    const text = readFileSync(join(sources, name), 'utf8').replaceAll('@GROUND@', GROUND)
        .replaceAll('@FOLDER@', folder).replaceAll('@VERSION@', version)
        .replaceAll('@LANGUAGE@', language).replaceAll('@WORDS@', catalogue ? ` data-words="${folder}/words.po"` : '')
        .replaceAll('@FILES@', files.map((file) => `'${file}'`).join(', '));
    writeFileSync(join(site, name), text);
}

let packed = 0;
for (const file of [...files.slice(1), ...shells.filter((name) => name !== 'manifest.webmanifest')])
    packed += brotliCompressSync(readFileSync(join(site, file))).length;
writeFileSync(join(built, 'download_bytes'), `${packed}\n`);
console.log(`web: version ${version}, ${(packed / 1e6).toFixed(2)} MB to download, packed`);
