// Gives the page's folder out on this machine only, for looking at it and for the tests.
//   node serve.mjs FOLDER [PORT]     PORT 0: any free one. The address is printed once it answers.
import { createServer } from 'node:http';
import { readFile } from 'node:fs/promises';
import { extname, join, normalize } from 'node:path';
import { brotliCompress, constants, gzip } from 'node:zlib';

const [folder, port = '8431'] = process.argv.slice(2);
const TYPES = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8',
    '.wasm': 'application/wasm', '.png': 'image/png', '.webmanifest': 'application/manifest+json' };

const server = createServer(async (request, response) => {
    let path = normalize(decodeURIComponent(new URL(request.url, 'http://localhost').pathname));
    if (path.endsWith('/')) path += 'index.html';
    try {
        if (path.includes('..')) throw new Error('outside');
        const bytes = await readFile(join(folder, path));
        const head = { 'Content-Type': TYPES[extname(path)] || 'application/octet-stream',
            // What is named by its contents may stay; the shell is asked for each time.
            'Cache-Control': path.startsWith('/v-') ? 'max-age=31536000, immutable' : 'no-cache',
            'X-Content-Type-Options': 'nosniff' };
        const accepted = request.headers['accept-encoding'] || '';
        const answer = (encoding) => (error, packed) => {
            response.writeHead(error ? 500 : 200, { ...head, 'Content-Encoding': encoding });
            response.end(error ? '' : packed);
        };
        if (path.endsWith('.wasm') && /\bbr\b/.test(accepted)) { // quickly: it is only this machine
            brotliCompress(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 4 } }, answer('br'));
            return;
        }
        if (/\bgzip\b/.test(accepted) && !path.endsWith('.png')) {
            gzip(bytes, answer('gzip'));
            return;
        }
        response.writeHead(200, head);
        response.end(bytes);
    } catch {
        response.writeHead(404, { 'Content-Type': 'text/plain' });
        response.end('not here');
    }
});
server.on('error', (error) => {
    console.error(error.code === 'EADDRINUSE'
        ? `web: port ${port} is taken; name another one: sh app/run.sh web PORT` : `web: ${error.message}`);
    process.exit(1);
});
server.listen(Number(port), '127.0.0.1', () => {
    console.log(`web: Railside is at http://localhost:${server.address().port}/ (Ctrl+C ends it)`);
});
