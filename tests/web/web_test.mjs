// Goes through the page as a person would.  node web_test.mjs ROOT [PART...]
import { execFileSync, spawn } from 'node:child_process';
import { appendFileSync, copyFileSync, cpSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { join } from 'node:path';
import { Browser, until, wait } from './browser.mjs';

const [root, ...wanted] = process.argv.slice(2);
const place = join(root, '.build/web-test');
const pictures = join(place, 'pictures');
const site = process.env.RAILSIDE_SITE || join(root, '.build/web/site');
const program = process.env.RAILSIDE_PROGRAM || join(root, '.build/release/app/railside');

const PHONE = { width: 390, height: 844, density: 3 };
const TABLET = { width: 820, height: 1180, density: 1 };
const WIDE = { width: 1280, height: 800, density: 1 };
const turned = ({ width, height, density }) => ({ width: height, height: width, density });

/// How much longer things take here because the machine has other work.
const slower = () => Math.max(1, loadavg()[0] / cpus().length);

let held = 0;
function check(what, fine, more = '') {
    if (!fine) throw new Error(`${what}${more === '' ? '' : ` (${more})`}`);
    held++;
}

class Site {
    static async open(folder = site) {
        const made = new Site();
        made.child = spawn('node', [join(root, 'app/web/serve.mjs'), folder, '0'], { stdio: ['ignore', 'pipe', 'inherit'] });
        made.address = await new Promise((resolve) => {
            made.child.stdout.on('data', (text) => {
                const found = /http:\/\/\S+/.exec(String(text));
                if (found) resolve(found[0]);
            });
        });
        return made;
    }

    close() { this.child.kill(); }
}

/// A whole version of its own in `folder`/site, as it would be published. `script`: put behind page.js; `words`: a
/// catalogue.
function publish(folder, { script = '', words = '' } = {}) {
    const sources = join(folder, 'sources');
    const built = join(folder, 'built');
    cpSync(join(root, 'app/web'), sources, { recursive: true });
    mkdirSync(built, { recursive: true });
    for (const name of ['railside.js', 'railside.wasm']) copyFileSync(join(root, '.build/web', name), join(built, name));
    appendFileSync(join(sources, 'page.js'), script);
    execFileSync('node', [join(root, 'app/web/pack.mjs'), sources, built, join(root, '.build/web/icons'),
        join(folder, 'site'), words]);
    rmSync(sources, { recursive: true });
}

let profiles = 0;
function freshProfile() {
    const folder = join(place, 'profiles', `${process.pid}-${++profiles}`);
    rmSync(folder, { recursive: true, force: true });
    return folder;
}

/// A tablet with the demo job open.
async function onDemo(address, screen, profile = freshProfile(), options = {}) {
    const browser = await Browser.open(profile, { screen, ...options });
    await browser.tab.open(address);
    if ((await browser.tab.controls()).has('shelf/demo')) {
        await browser.tab.tap('shelf/demo');
        await until('the demo job', async () => (await browser.tab.controls()).has('rail/photos'), 60);
        await browser.tab.settle();
    }
    return browser;
}

function noErrors(tab) {
    // The network being off is what some parts are about.
    const real = tab.errors.filter((error) => !/ERR_INTERNET_DISCONNECTED|ERR_CONNECTION_REFUSED|Failed to load resource/.test(error));
    check('the page reported no error', real.length === 0, real.join(' | '));
}

/// What a native bench makes of a job file: imported, exported again.
function throughNative(file, name) {
    const bench = join(place, 'native', name);
    rmSync(bench, { recursive: true, force: true });
    mkdirSync(bench, { recursive: true });
    execFileSync(program, ['import', file, '--bench', bench]);
    const [id] = /[0-9A-Z]{26}/.exec(execFileSync(program, ['jobs', '--bench', bench]).toString());
    const again = join(bench, 'again.railjob');
    execFileSync(program, ['export', id, '--out', again, '--bench', bench]);
    return again;
}

const same = (one, other) => execFileSync('python3', [join(place, 'tests/same_job.py'), one, other]).toString().trim();

/// The file of that ending that the page gives after `act`.
async function given(tab, name, ending, act) {
    const folder = join(place, 'downloads', name);
    rmSync(folder, { recursive: true, force: true });
    mkdirSync(folder, { recursive: true });
    await tab.cdp.send('Browser.setDownloadBehavior', { behavior: 'allow', downloadPath: folder });
    await act();
    const done = () => readdirSync(folder).find((file) => file.endsWith(ending));
    await until(`the ${ending} file`, async () => {
        const save = tab.page.locator('#notice-give button', { hasText: 'Save' });
        if (await save.count()) await save.click();
        return done();
    }, 60);
    return join(folder, done());
}

/// The job that is open, as the page writes it.
function exported(tab, name) {
    return given(tab, name, '.railjob', async () => {
        await tab.tap('rail/sheet');
        await tab.reach('sheet/export');
        await tab.tap('sheet/export');
    });
}

async function choose(tab, act, file) {
    const [chooser] = await Promise.all([tab.page.waitForEvent('filechooser'), act()]);
    await chooser.setFiles(file);
    await tab.settle();
}

/// How long the parts of the last photo took, after the moment of the touch.
function photoParts(tab, touched) {
    return tab.page.evaluate((from) => {
        const told = [];
        const all = Math.round(performance.now() - from);
        let before = from;
        for (const part of ['asked', 'taken', 'decoded', 'filed', 'stored'])
            if (railside.photoTimes[part] >= before) {
                told.push(`${part} ${Math.round(railside.photoTimes[part] - before)}`);
                before = railside.photoTimes[part];
            }
        return `${all} ms from the shutter to "kept": ${told.join(', ')}, said ${Math.round(performance.now() - before)}`;
    }, touched);
}

// A reading keyed, a working kept, a photo taken and marked, a step ticked, the tablet turned and killed.
async function journey(address, name, screen) {
    const profile = freshProfile();
    let browser = await onDemo(address, screen, profile);
    let { tab } = browser;
    await tab.picture(pictures, `${name}-sheet`);
    await tab.page.evaluate(async () => { await navigator.serviceWorker.ready; });
    await tab.cdp.send('Network.enable');
    await tab.cdp.send('Network.emulateNetworkConditions',
        { offline: true, latency: 0, downloadThroughput: 0, uploadThroughput: 0 });

    await tab.tap('rail/workings');
    await tab.tap('workings/field/reading');
    await tab.tap('keypad/clear');
    await tab.keyIn('11.5m');
    await tab.picture(pictures, `${name}-keypad`);
    await tab.resize(turned(screen));
    await tab.settle();
    check(`${name}: a half typed number survives turning`, await tab.value('keypad/typed') === '11.5m',
        await tab.value('keypad/typed'));
    await tab.picture(pictures, `${name}-keypad-turned`);
    await tab.resize(screen);
    await tab.settle();
    await tab.tap('keypad/set');
    await tab.tap('workings/keep');
    await tab.picture(pictures, `${name}-workings`);

    await tab.tap('rail/photos');
    await until(`${name}: thumbnails`, async () =>
        [...(await tab.controls()).keys()].some((control) => control.startsWith('photos/thumb/')));
    const photos = async () => [...(await tab.controls()).keys()]
        .filter((control) => control.startsWith('photos/thumb/')).length;
    await tab.tap('photos/camera');
    await until(`${name}: the camera`, async () => {
        const state = await tab.value('camera/state');
        return state === 'camera' || state === '';
    });
    await wait(300);
    await tab.picture(pictures, `${name}-camera`);
    const { x, y } = await tab.place('camera/shutter');
    const touched = await tab.page.evaluate(() => performance.now());
    await tab.tapAt(x, y);
    await until(`${name}: the photo is kept`, async () => /kept/.test((await tab.value('message')) || ''));
    console.log(`   ${name}: ${await photoParts(tab, touched)}`);
    await tab.tap('camera/leave');
    await until(`${name}: no thumbnail is missing`, async () => (await photos()) >= 1);
    await wait(500);
    await tab.picture(pictures, `${name}-photos`);
    const newest = [...(await tab.controls()).keys()].filter((one) => one.startsWith('photos/thumb/')).sort().pop();
    await tab.tap(newest);
    await tab.settle();
    await wait(500);
    await tab.tap('photos/draw');
    await tab.tap('photos/tool/ring');
    const middle = await tab.place('photos/picture');
    await tab.drag(middle, { x: middle.x + 40, y: middle.y + 40 });
    await tab.picture(pictures, `${name}-photo-marked`);
    await tab.tap('photos/drawn');

    await tab.tap('rail/steps');
    const ticks = async () => [...(await tab.controls()).values()]
        .filter((one) => one.name.startsWith('steps/tick/'));
    const ticked = (await ticks()).filter((one) => one.selected).length;
    const open = (await ticks()).find((one) => !one.selected && !one.dead);
    if (open) {
        await tab.tap(open.name);
        if (!(await tab.controls()).get(open.name)?.selected) {
            const answer = [...(await tab.controls()).keys()].find((one) => one.startsWith('steps/answer/'));
            if (answer) await tab.tap(answer);
        }
    }
    await tab.picture(pictures, `${name}-steps`);
    check(`${name}: a step is ticked`, (await ticks()).filter((one) => one.selected).length > ticked);
    await tab.resize(turned(screen));
    await tab.settle();
    await tab.picture(pictures, `${name}-steps-turned`);
    await tab.resize(screen);
    await tab.settle();
    noErrors(tab);
    await tab.cdp.send('Network.emulateNetworkConditions',
        { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
    const written = await exported(tab, `${name}-before`);
    await browser.kill();

    browser = await Browser.open(profile, { screen });
    tab = browser.tab;
    await tab.open(address);
    const job = [...(await tab.controls()).keys()].find((one) => one.startsWith('shelf/job/'));
    check(`${name}: the job is there after the kill`, Boolean(job));
    await tab.tap(job);
    const after = await exported(tab, `${name}-after`);
    console.log(`   ${name}: before and after the kill: ${same(written, after)}`);
    console.log(`   ${name}: through the native program: ${same(after, throughNative(after, name))}`);
    held += 2;
    noErrors(tab);
    await browser.kill();
}

const parts = {
    // The first visit, the second from the cache, and one without a network.
    async start({ address }) {
        const packed = Number(readFileSync(join(root, '.build/web/download_bytes'), 'utf8'));
        check('less than 1.5 MB to download', packed > 100e3 && packed < 1.5e6, packed);
        console.log(`   ${(packed / 1e6).toFixed(2)} MB to download`);
        const profile = freshProfile();
        const browser = await Browser.open(profile, { screen: PHONE });
        const { tab } = browser;
        await tab.open(address);
        await tab.picture(pictures, 'shelf-first-visit');
        check('the shelf offers the demo job', (await tab.controls()).has('shelf/demo'));
        await until('the service worker has the page',
            () => tab.page.evaluate(async () => Boolean((await navigator.serviceWorker.ready).active)));
        await tab.page.reload();
        await tab.ready();
        check('a service worker answers', await tab.page.evaluate(() => Boolean(navigator.serviceWorker.controller)));
        let best = Infinity;
        for (let i = 0; i < 3; i++) {
            await tab.page.reload();
            await tab.ready();
            best = Math.min(best, await tab.page.evaluate(() => railside.firstFrame));
        }
        console.log(`   first frame ${best.toFixed(0)} ms after the reload`);
        check('first frame within a second, from the cache', best < 1000 * slower(), `${best} ms`);
        const before = await tab.page.evaluate(() => railside.frames());
        await wait(10000);
        check('nothing is drawn while nothing changes',
            await tab.page.evaluate(() => railside.frames()) === before);
        await tab.cdp.send('Network.enable');
        await tab.cdp.send('Network.emulateNetworkConditions',
            { offline: true, latency: 0, downloadThroughput: 0, uploadThroughput: 0 });
        await tab.page.reload();
        await tab.ready();
        check('it starts without a network', (await tab.controls()).has('shelf/demo'));
        noErrors(tab);
        await browser.kill();
    },

    // A job file of the native program taken in here, and given back the same.
    async exchange({ address }) {
        const bench = join(place, 'native', 'giver');
        rmSync(bench, { recursive: true, force: true });
        mkdirSync(bench, { recursive: true });
        const given = join(bench, 'given.railjob');
        execFileSync(program, ['picture', '--job', 'demo', '--room', 'sheet', '--screen', '800x480', '--bench', bench,
            '--out', join(bench, 'sheet.png')]); // which makes the bench
        execFileSync(program, ['export', 'demo', '--out', given, '--bench', bench]);
        const browser = await Browser.open(freshProfile(), { screen: TABLET });
        const { tab } = browser;
        await tab.open(address);
        await tab.tap('shelf/bench');
        await tab.tap('bench/part/copies');
        await tab.picture(pictures, 'tablet-bench');
        await choose(tab, async () => {
            const { x, y } = await tab.place('bench/copies/import');
            await tab.tapAt(x, y);
        }, given);
        await until('the job that was taken in', async () => (await tab.controls()).has('rail/photos'));
        console.log(`   native, taken in and written again: ${same(given, await exported(tab, 'exchange'))}`);
        held++;
        const broken = join(bench, 'broken.railjob');
        writeFileSync(broken, readFileSync(given).subarray(0, 5000));
        await tab.tap('header/job');
        await tab.tap('shelf/bench');
        await tab.tap('bench/part/copies');
        await choose(tab, async () => {
            const { x, y } = await tab.place('bench/copies/import');
            await tab.tapAt(x, y);
        }, broken);
        await until('a broken file is refused in words', async () =>
            (await tab.controls()).get('message')?.role === 'button');
        noErrors(tab);
        await browser.kill();
    },

    // The report as a web page and as text, written by this page; the web page stands by itself.
    async report({ address }) {
        const browser = await onDemo(address, PHONE);
        const { tab } = browser;
        await tab.tap('rail/sheet');
        await tab.reach('sheet/handover');
        await tab.tap('sheet/handover');
        await tab.tap('handover/part/write');
        const html = await given(tab, 'report-html', '.html', () => tab.tap('handover/write/html'));
        const text = await given(tab, 'report-text', '.txt', () => tab.tap('handover/write/text'));
        await tab.picture(pictures, 'phone-handover');
        const page = readFileSync(html, 'utf8');
        check('the report tells of the unit', page.includes('SA-260') && readFileSync(text, 'utf8').includes('SA-260'));
        const photos = page.match(/src="data:image\/jpeg;base64,/g) || [];
        check('its photos are in it', photos.length >= 3, photos.length);
        check('and nothing outside it', !/(src|href)="(?!data:|#)/.test(page));
        noErrors(tab);
        const shown = await browser.newTab(PHONE);
        await shown.page.goto(`file://${html}`);
        const broken = await shown.page.evaluate(() => [...document.images].filter((one) => !one.naturalWidth).length);
        check('every photo of it can be seen', broken === 0, broken);
        check('nothing is wider than a phone', await shown.page.evaluate(() =>
            document.documentElement.scrollWidth <= innerWidth + 1));
        await shown.picture(pictures, 'phone-report');
        await browser.kill();
    },

    // A job file is shared where the system can, as the same bytes; cancelled, it is still offered; refused, it is saved.
    async share({ address }) {
        const browser = await onDemo(address, PHONE);
        const { tab } = browser;
        await tab.page.evaluate(() => {
            window.shared = [];
            window.answers = ['AbortError', '', 'NotAllowedError'];
            const put = (name, value) => Object.defineProperty(navigator, name, { value, configurable: true });
            put('canShare', (what) => what.files.every((file) => file.name.endsWith('.railjob')));
            put('share', async ({ files }) => {
                const error = window.answers.shift();
                const touched = navigator.userActivation.isActive; // what a browser demands
                if (error) throw new DOMException('not shared', error);
                for (const file of files)
                    window.shared.push({ name: file.name, touched, bytes: [...new Uint8Array(await file.arrayBuffer())] });
            });
        });
        const folder = join(place, 'downloads', 'share');
        rmSync(folder, { recursive: true, force: true });
        mkdirSync(folder, { recursive: true });
        await tab.cdp.send('Browser.setDownloadBehavior', { behavior: 'allow', downloadPath: folder });
        const downloads = () => readdirSync(folder).filter((file) => file.endsWith('.railjob'));
        const offered = tab.page.locator('#notice-give');
        const share = () => offered.locator('button', { hasText: 'Share' }).click();
        const write = async () => {
            await tab.tap('rail/sheet');
            await tab.reach('sheet/export');
            await tab.tap('sheet/export');
            await until('the file is offered', async () => await offered.count() === 1, 60);
        };
        await write();
        check('the offer names the file', /\.railjob is ready/.test(await offered.innerText()), await offered.innerText());
        await tab.picture(pictures, 'phone-share');
        await share();
        await until('it was cancelled', () => tab.page.evaluate(() => window.answers.length === 2));
        await wait(500);
        check('cancelled, it is still offered', await offered.count() === 1);
        check('and not saved behind the person\'s back', downloads().length === 0, downloads());
        check('and no error is told', await tab.page.locator('#notices .bad').count() === 0);
        await share();
        await until('it is shared', () => tab.page.evaluate(() => window.shared.length === 1));
        await until('the offer is gone', async () => await offered.count() === 0);
        const [one] = await tab.page.evaluate(() => window.shared);
        check('it was shared within the touch', one.touched === true, one.touched);
        const sent = join(place, 'downloads', 'shared.railjob');
        writeFileSync(sent, Buffer.from(one.bytes));
        check('shared, it is not saved as well', downloads().length === 0, downloads());

        await write();
        await share();
        await until('refused, it is saved', () => downloads().length === 1, 60);
        await until('and that is said', async () => /saved among the downloads/.test(await tab.page.locator('#notices').innerText()));
        await tab.picture(pictures, 'phone-share-refused');
        console.log(`   shared and saved: ${same(sent, join(folder, downloads()[0]))}`);
        console.log(`   shared, through the native program: ${same(sent, throughNative(sent, 'shared'))}`);
        held += 2;
        await tab.page.locator('#notice-saved button').click();

        // Where the system cannot share it at all, it is saved without a question.
        for (const file of downloads()) rmSync(join(folder, file)); // one of the same name would replace it
        await tab.page.evaluate(() => Object.defineProperty(navigator, 'canShare', { value: () => false }));
        await tab.tap('rail/sheet');
        await tab.reach('sheet/export');
        await tab.tap('sheet/export');
        await until('it is saved at once', () => downloads().length === 1, 60);
        check('and nothing is asked', await offered.count() === 0);
        noErrors(tab);
        await browser.kill();
    },

    // Every job of the bench as a job file, also one without photos; each is taken in by the native program.
    async copies({ address }) {
        const browser = await onDemo(address, TABLET);
        const { tab } = browser;
        await tab.tap('header/job');
        await tab.tap('shelf/new');
        await until('the field', () => tab.page.evaluate(() => document.activeElement.id === 'field'));
        await tab.page.keyboard.type('Bare');
        await tab.page.keyboard.press('Enter');
        await tab.settle();
        if ((await tab.controls()).has('text/leave')) await tab.tap('text/leave');
        await tab.tap('header/job');
        await tab.tap('shelf/bench');
        await tab.tap('bench/part/copies');
        await tab.picture(pictures, 'tablet-copies');
        const folder = join(place, 'downloads', 'copies');
        rmSync(folder, { recursive: true, force: true });
        mkdirSync(folder, { recursive: true });
        await tab.cdp.send('Browser.setDownloadBehavior', { behavior: 'allow', downloadPath: folder });
        await tab.tap('bench/copies/backup');
        const files = () => readdirSync(folder).filter((file) => file.endsWith('.railjob')).sort();
        await until('both jobs are written', () => files().length === 2, 60);
        await until('and that is said', async () => /2 of 2 jobs are written/.test((await tab.value('message')) || ''));
        await tab.picture(pictures, 'tablet-copies-written');
        for (const file of files()) {
            console.log(`   ${file}: ${same(join(folder, file), throughNative(join(folder, file), `copies-${file}`))}`);
            held++;
        }
        noErrors(tab);
        await browser.kill();
    },

    // A circuit from two files chosen together; one alone is refused in words.
    async circuit({ address }) {
        const circuits = (job) => JSON.parse(execFileSync('python3', ['-c', `
import json, sqlite3, sys
rows = sqlite3.connect(sys.argv[1]).execute("SELECT body FROM entry WHERE kind = 'circuit' ORDER BY id").fetchall()
print(json.dumps([json.loads(row[0]) for row in rows]))`, job]).toString());
        const browser = await onDemo(address, TABLET);
        const { tab } = browser;
        const before = circuits(await exported(tab, 'circuit'));
        const last = before[before.length - 1];
        const netlist = join(place, 'amplifier.cir');
        const positions = join(place, 'its positions.json');
        writeFileSync(netlist, last.netlist);
        writeFileSync(positions, typeof last.positions === 'string' ? last.positions : JSON.stringify(last.positions));
        await tab.tap('rail/suspects');
        const from = async () => {
            await tab.tap('suspects/part/evidence');
            for (let i = 0; i < 12; i++) { // to the foot of a long page
                const x = TABLET.width * 0.2;
                await tab.drag({ x, y: TABLET.height * 0.45 }, { x, y: TABLET.height * 0.2 });
            }
            await tab.tap('suspects/evidence/file');
        };
        await choose(tab, from, [netlist]);
        check('one file alone is refused', /two files, chosen together/.test(await tab.page.locator('#notices').innerText()));
        await tab.picture(pictures, 'tablet-circuit-refused');
        await tab.page.locator('#notice-pair button').click();
        await choose(tab, from, [positions, netlist]);
        await tab.settle();
        await tab.picture(pictures, 'tablet-suspects-file');
        const after = circuits(await exported(tab, 'circuit-again'));
        check('one circuit more', after.length === before.length + 1);
        const taken = after[after.length - 1];
        check('as it was', taken.netlist === last.netlist && taken.name === 'amplifier.cir');
        noErrors(tab);
        await browser.kill();
    },

    // A new version is fetched behind the screen and takes over when nothing is half done; the old one's cache goes.
    async update() {
        const folder = join(place, 'update');
        rmSync(folder, { recursive: true, force: true });
        const put = (version) => publish(folder, { script: `window.version = ${version};\n` });
        put(1);
        const server = await Site.open(join(folder, 'site'));
        try {
            const browser = await onDemo(server.address, PHONE);
            const { tab } = browser;
            const version = () => tab.page.evaluate(() => window.version).catch(() => 0);
            const caches = () => tab.page.evaluate(() => window.caches.keys());
            await tab.page.evaluate(async () => { await navigator.serviceWorker.ready; });
            await tab.page.reload();
            await tab.ready();
            const [first] = await caches();
            await tab.tap([...(await tab.controls()).keys()].find((one) => one.startsWith('shelf/job/')));
            await tab.tap('rail/workings');
            const entered = await tab.page.evaluate(() => railside.store.lastKey);

            put(2);
            await tab.page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
            const told = tab.page.locator('#notice-version');
            await until('the new version is told of', async () => await told.count() === 1 &&
                /new version of Railside is ready/.test(await told.innerText()), 60);
            check('the old one goes on', await version() === 1);
            check('both are kept whole', (await caches()).length === 2, await caches());
            await tab.picture(pictures, 'phone-new-version');

            // A number half typed holds it up, then an entry that is not stored yet.
            await tab.tap('workings/field/reading');
            await tab.tap('keypad/clear');
            await tab.keyIn('12m');
            await told.locator('button', { hasText: 'Use it now' }).click();
            await until('what it waits for is said', async () => /takes over as soon as/.test(await told.innerText()));
            await tab.picture(pictures, 'phone-new-version-waits');
            await wait(1500);
            check('a half typed number is not lost', await tab.value('keypad/typed') === '12m' && await version() === 1,
                await tab.value('keypad/typed'));
            await tab.page.evaluate(() => {
                const gate = new Promise((resolve) => { window.openGate = resolve; });
                const { store } = railside;
                const write = store.write.bind(store);
                store.write = async (batch) => { await gate; return write(batch); };
            });
            const set = await tab.place('keypad/set');
            await tab.tapAt(set.x, set.y);
            await until('the number\'s entry waits to be stored', () => tab.page.evaluate(() => railside.store.unsaved > 0));
            await wait(1500);
            check('nor is an entry that is not stored', await version() === 1 &&
                await tab.page.evaluate(() => railside.store.unsaved > 0));
            check('the new version still waits', (await caches()).length === 2, await caches());
            await tab.page.evaluate(() => window.openGate());
            await until('the new version has taken over', async () => await version() === 2, 60);
            await tab.ready();
            await until('the old one is gone', async () => (await caches()).length === 1);
            check('it is the old one that went', (await caches())[0] !== first, await caches());
            check('nothing is told any more', await told.count() === 0);
            check('the entry is there', await tab.page.evaluate(() => railside.store.lastKey) > entered);
            await tab.tap([...(await tab.controls()).keys()].find((one) => one.startsWith('shelf/job/')));
            await tab.tap('rail/workings');
            check('as it was typed', /12/.test(await tab.value('workings/field/reading')),
                await tab.value('workings/field/reading'));
            const written = await exported(tab, 'update');
            console.log(`   after the new version, through the native program: ${same(written, throughNative(written, 'update'))}`);
            held++;
            await tab.cdp.send('Network.enable');
            await tab.cdp.send('Network.emulateNetworkConditions',
                { offline: true, latency: 0, downloadThroughput: 0, uploadThroughput: 0 });
            await tab.page.reload();
            await tab.ready();
            check('and it is there without a network', await version() === 2);
            noErrors(tab);
            await browser.kill();
        } finally {
            server.close();
        }
    },

    // What goes wrong is said, and nothing is lost.
    async trouble({ address }) {
        const browser = await onDemo(address, TABLET);
        const { tab } = browser;

        // A second tab reads only.
        const second = await browser.newTab(TABLET);
        await second.open(address);
        check('the second tab says that it only reads', /only be read/.test(await second.page.locator('#notices').innerText()));
        const job = [...(await second.controls()).keys()].find((one) => one.startsWith('shelf/job/'));
        await second.tap(job);
        await second.tap('rail/workings');
        const lines = () => second.page.evaluate(async () => railside.store.lines);
        const before = await lines();
        await second.tap('workings/keep');
        check('and refuses to write', /another tab/.test(await second.value('message')), await second.value('message'));
        check('and has written nothing', await lines() === before);
        await second.page.close();

        // The context of the graphics is lost and comes back.
        await tab.tap('rail/photos');
        await wait(500);
        await tab.page.evaluate(async () => {
            const lose = document.getElementById('screen').getContext('webgl2').getExtension('WEBGL_lose_context');
            lose.loseContext();
            await new Promise((resolve) => { setTimeout(resolve, 200); });
            lose.restoreContext();
        });
        await wait(500);
        await tab.settle();
        await wait(500);
        await tab.picture(pictures, 'tablet-after-context-loss');
        check('the screen is drawn again', (await tab.controls()).has('photos/camera'));

        // The browser aborts what is written, as when there is no room: said, kept in memory, written when it works again.
        await tab.page.evaluate(() => {
            window.real = IDBDatabase.prototype.transaction;
            IDBDatabase.prototype.transaction = function transaction(stores, mode, options) {
                const made = window.real.call(this, stores, mode, options);
                if (mode === 'readwrite' && stores.includes('journal')) {
                    const failing = () => { try { made.abort(); } catch { /* over already */ } };
                    setTimeout(failing, 0);
                    Object.defineProperty(made, 'error', { value: new DOMException('full', 'QuotaExceededError') });
                    queueMicrotask(failing);
                }
                return made;
            };
        });
        await tab.tap('rail/workings');
        const { x, y } = await tab.place('workings/keep');
        await tab.tapAt(x, y);
        await until('the trouble is said', async () => /no more room/.test(await tab.page.locator('#notices').innerText()));
        await wait(600);
        check('nothing is called kept', !/\bkept\b/i.test((await tab.value('message')) || ''), await tab.value('message'));
        check('the head says so', await tab.value('header/saved') === 'saving', await tab.value('header/saved'));
        await tab.picture(pictures, 'tablet-no-room');
        const waiting = await tab.page.evaluate(() => railside.store.unsaved);
        check('it waits in memory', waiting > 0);
        await tab.tapAt(x, y);
        await wait(300);
        check('and more is refused', await tab.page.evaluate(() => railside.store.unsaved) === waiting);
        await tab.page.evaluate(() => { IDBDatabase.prototype.transaction = window.real; });
        await until('it is written after all', () => tab.page.evaluate(() => railside.store.unsaved === 0), 15);
        await tab.settle();
        check('the trouble is over', !(await tab.page.locator('#notices').innerText()).includes('no more room'));
        check('and the head says so', await tab.value('header/saved') === 'saved', await tab.value('header/saved'));
        noErrors(tab);
        await browser.kill();
    },

    // Killed at random moments while entries are written: what was acknowledged is there.
    async kill({ address }) {
        const kills = Number(process.env.RAILSIDE_WEB_KILLS || 8);
        const profile = freshProfile();
        let browser = await onDemo(address, PHONE, profile);
        const acknowledged = new Set(); // the names of entries
        for (let i = 0; i < kills; i++) {
            const { tab } = browser;
            await tab.tap('rail/workings');
            // Keeps again and again, and tells which were acknowledged.
            await tab.page.evaluate(() => {
                window.told = [];
                const { store } = railside;
                const { arrived } = store.told;
                let under = [];
                const write = store.write.bind(store);
                store.write = (batch) => { under = batch; return write(batch); };
                store.told.arrived = (number) => {
                    for (const { line } of under) if (line) window.told.push(...JSON.parse(line).map(({ id }) => id));
                    arrived(number);
                };
            });
            const { x, y } = await tab.place('workings/keep');
            const stop = Date.now() + 300 + Math.floor(Math.random() * 900);
            while (Date.now() < stop) {
                await tab.tapAt(x, y);
                for (const id of await tab.page.evaluate(() => window.told.splice(0))) acknowledged.add(id);
            }
            await browser.kill();
            browser = await Browser.open(profile, { screen: PHONE });
            await browser.tab.open(address);
            const gone = await browser.tab.page.evaluate(async (ids) => {
                const { bench, lines } = await railside.store.read();
                const all = lines.join() + (bench ? new TextDecoder('latin1').decode(bench) : '');
                return ids.filter((id) => !all.includes(id));
            }, [...acknowledged]);
            check(`kill ${i + 1}: every acknowledged entry is there`, gone.length === 0,
                `${gone.length} of ${acknowledged.size} are gone: ${gone.slice(0, 3)}`);
            const job = [...(await browser.tab.controls()).keys()].find((one) => one.startsWith('shelf/job/'));
            check(`kill ${i + 1}: the job is there`, Boolean(job));
            await browser.tab.tap(job);
            if (i % 10 === 9) console.log(`   ${i + 1} kills: all of ${acknowledged.size} entries there`);
        }
        check('entries were acknowledged', acknowledged.size >= kills / 2, acknowledged.size);
        console.log(`   ${kills} kills; ${acknowledged.size} entries acknowledged, none lost`);
        const written = await exported(browser.tab, 'kill');
        console.log(`   through the native program: ${same(written, throughNative(written, 'kill'))}`);
        held++;
        await browser.kill();
    },

    // The system's keyboard for texts, the hardware's for everything, and the screen for who cannot see it.
    async words({ address }) {
        const browser = await onDemo(address, { ...TABLET });
        const { tab } = browser;
        await tab.tap('rail/sheet');
        await tab.reach('sheet/note');
        await tab.tap('sheet/note');
        await until('the field', () => tab.page.evaluate(() => document.activeElement.id === 'field'));
        await tab.page.keyboard.type('Zené r 12 V', { delay: 5 });
        await tab.page.keyboard.press('Backspace');
        await tab.page.keyboard.press('Backspace');
        await tab.page.evaluate(() => { // as a correction of the keyboard arrives: the whole text at once
            const field = document.getElementById('field');
            field.value = field.value.replace('Zené r', 'Zener µ');
            field.dispatchEvent(new InputEvent('input', { inputType: 'insertReplacementText' }));
        });
        await tab.settle();
        check('the text arrives whole', await tab.value('text/line') === 'Zener µ 12', await tab.value('text/line'));
        await tab.picture(pictures, 'tablet-note');
        await tab.page.keyboard.press('Enter');
        await tab.settle();
        check('Enter writes it down', await tab.page.evaluate(() => document.getElementById('field').hidden));

        // The mirror: what the accessibility tree tells.
        const { nodes } = await tab.cdp.send('Accessibility.getFullAXTree');
        const told = nodes.filter((node) => !node.ignored).map((node) => `${node.role?.value}: ${node.name?.value}`);
        check('the rail of rooms is told', told.some((line) => /^tab: Workings/.test(line)), told.slice(0, 40).join(', '));
        await tab.page.evaluate(() => document.querySelector('[data-name="rail/workings"]').click());
        await tab.settle();
        check('activating one there opens it', (await tab.controls()).has('workings/keep'));
        await tab.page.keyboard.press('Tab');
        await tab.settle();
        const focused = await tab.page.evaluate(() => document.activeElement.dataset.name);
        check('the focus follows the keyboard', Boolean(focused), focused);
        const control = [...(await tab.controls()).values()].find((one) => one.focused);
        check('and is the program\'s own', control && control.name === focused, control && control.name);
        noErrors(tab);
        await browser.kill();
    },

    // In other words: the program, the page's own notices, and both without a network.
    async spoken() {
        const folder = join(place, 'spoken');
        rmSync(folder, { recursive: true, force: true });
        mkdirSync(folder, { recursive: true });
        const list = readFileSync(join(root, 'assets/words/railside.pot'), 'utf8');
        const words = join(folder, 'words.po');
        writeFileSync(words, list.replace('charset=UTF-8\\n"', 'charset=UTF-8\\n"\n"Language: de_AT\\n"')
            .replace(/^msgid "(.+)"\nmsgstr ""$/gm, 'msgid "$1"\nmsgstr "~$1"'));
        publish(folder, { words });
        const server = await Site.open(join(folder, 'site'));
        try {
            const browser = await onDemo(server.address, PHONE);
            const { tab } = browser;
            check('the page says which language', await tab.page.evaluate(() => document.documentElement.lang) === 'de-AT');
            const rail = async () => (await tab.controls()).get('rail/photos').label;
            check('the rooms speak it', await rail() === '~Photos', await rail());
            const second = await browser.newTab(PHONE);
            await second.open(server.address);
            const told = await second.page.locator('#notice-second').innerText();
            check('so do the page\'s notices', told.startsWith('~Railside is open'), told);
            check('and their answers', /~Load again/.test(told), told);
            await second.picture(pictures, 'phone-spoken-second');
            await second.page.close();
            await tab.page.evaluate(async () => { await navigator.serviceWorker.ready; });
            await tab.page.reload();
            await tab.ready();
            server.close();
            await tab.page.reload();
            await tab.ready();
            await tab.tap([...(await tab.controls()).keys()].find((one) => one.startsWith('shelf/job/')));
            check('and without a network', await rail() === '~Photos', await rail());
            await tab.tap('rail/workings');
            await tab.tap('workings/field/reading');
            for (const key of ['clear', '9', '9']) await tab.tap(`keypad/${key}`);
            await tab.settle();
            await tab.picture(pictures, 'phone-spoken');
            noErrors(tab);
            await browser.kill();
        } finally {
            server.close();
        }
    },

    // No camera: said, with the other way; several pictures picked at once; one that is none.
    async pictures({ address }) {
        const browser = await onDemo(address, PHONE, freshProfile(), { camera: false });
        const { tab } = browser;
        await tab.tap('rail/photos');
        await tab.tap('photos/camera');
        await until('no camera is said', async () => /camera/.test((await tab.value('camera/state')) || '') &&
            (await tab.value('camera/state')).length > 20);
        await tab.picture(pictures, 'phone-no-camera');
        const [chooser] = await Promise.all([tab.page.waitForEvent('filechooser'), (async () => {
            const { x, y } = await tab.place('camera/shutter');
            await tab.tapAt(x, y);
        })()]);
        check('the system\'s camera is offered', await chooser.element().getAttribute('capture') === 'environment');
        const made = await tab.page.evaluate(async () => {
            const canvas = document.createElement('canvas');
            canvas.width = 4000;
            canvas.height = 3000;
            const pen = canvas.getContext('2d');
            for (let i = 0; i < 400; i++) {
                pen.fillStyle = `hsl(${i * 7 % 360} 60% ${30 + i % 50}%)`;
                pen.fillRect(i * 97 % 4000, i * 61 % 3000, 400, 300);
            }
            const blob = await new Promise((resolve) => { canvas.toBlob(resolve, 'image/jpeg', 0.9); });
            return [...new Uint8Array(await blob.arrayBuffer())];
        });
        const one = join(place, 'one.jpg');
        writeFileSync(one, Buffer.from(made));
        const two = join(root, 'assets/picture.png');
        const bad = join(place, 'bad.jpg');
        writeFileSync(bad, Buffer.from(made).subarray(0, 9000));
        await tab.tap('camera/leave');
        const started = Date.now();
        await choose(tab, async () => {
            const { x, y } = await tab.place('photos/import');
            await tab.tapAt(x, y);
        }, [one]);
        await until('the large photo', async () => /kept/.test((await tab.value('message')) || ''));
        const took = Date.now() - started; // with the chooser and the frames, which have no GPU here
        const ours = await tab.page.evaluate(() => railside.photoTimes.stored - railside.photoTimes.asked);
        console.log(`   a photo of 12 megapixels is kept after ${took} ms, ${Math.round(ours)} of them from file to disk`);
        check('a photo of 12 megapixels within a second and a half', took < 1500 * slower(), `${took} ms`);
        check('and on the disk within a second', ours < 1000 * slower(), `${ours} ms`);
        const files = () => tab.page.evaluate(() => new Promise((resolve) => {
            const request = railside.store.db.transaction('files').objectStore('files').count();
            request.onsuccess = () => resolve(request.result);
        }));
        const before = await files();
        await choose(tab, async () => {
            const { x, y } = await tab.place('photos/import');
            await tab.tapAt(x, y);
        }, [two, bad]);
        await until('the broken one is refused', async () => (await tab.controls()).get('message')?.role === 'button');
        check('the sound one is in, the broken one is not', await files() === before + 1, `${before} ${await files()}`);
        check('photos are not in memory', await tab.page.evaluate(() => railside.store.pending.size === 0));
        noErrors(tab);
        await browser.kill();
    },

    async 'journey-phone'({ address }) { await journey(address, 'phone', PHONE); },

    async 'journey-tablet'({ address }) { await journey(address, 'tablet', TABLET); },

    async 'journey-wide'({ address }) { await journey(address, 'wide', WIDE); },

    // 1,000 taps, drags and second fingers on the keypad: each digit once, nothing else.
    async fingers({ address }) {
        const browser = await onDemo(address, { ...PHONE, density: 1 }); // a thousand frames are drawn without a GPU
        const { tab } = browser;
        await tab.tap('rail/workings');
        await tab.tap('workings/field/reading');
        const keys = {};
        for (const name of '123456789') keys[name] = await tab.place(`keypad/${name}`);
        keys.clear = await tab.place('keypad/clear');
        const empty = { x: PHONE.width / 2, y: 12 };
        // Its own dice: the same fingers in every run.
        let dice = 12345;
        const roll = (n) => {
            dice = (Math.imul(dice, 1103515245) + 12345) >>> 0;
            return (dice >>> 8) % n;
        };
        await tab.tap('keypad/clear');
        let expected = '';
        let taps = 0;
        let drags = 0;
        let seconds = 0;
        const wrong = [];
        const shown = async () => {
            await tab.settle();
            const text = (await tab.controls()).get('keypad/typed');
            return text ? text.value : null;
        };
        check('the keypad shows nothing at first', (await shown()) === '', await shown());
        for (let i = 0; i < 1000; i++) {
            if (Date.now() > end + 180e3) {
                untried.push(`fingers from ${i} on`);
                break;
            }
            const what = roll(10);
            const key = String(1 + roll(9));
            if (what < 6) {
                if (expected.length === 4) {
                    await tab.tapAt(keys.clear.x, keys.clear.y);
                    expected = '';
                } else {
                    await tab.tapAt(keys[key].x, keys[key].y);
                    expected += key;
                }
                taps++;
            } else if (what < 7) {
                await tab.tapAt(empty.x, empty.y);
                taps++;
            } else if (what < 9) {
                const from = keys[key];
                await tab.finger('touchStart', [{ ...from, id: 1 }]);
                for (let step = 1; step <= 4; step++)
                    await tab.finger('touchMove', [{ x: from.x + (roll(2) ? 1 : -1) * step, y: from.y - step * 14, id: 1 }]);
                await tab.finger('touchEnd', []);
                drags++;
            } else {
                const second = keys[String(1 + roll(9))];
                await tab.finger('touchStart', [{ ...keys[key], id: 1 }]);
                await tab.finger('touchStart', [{ ...keys[key], id: 1 }, { x: second.x + 9, y: second.y + 9, id: 2 }]);
                await tab.finger('touchEnd', [{ ...keys[key], id: 1 }]);
                await tab.finger('touchEnd', []);
                seconds++;
            }
            if (i % 10 === 9 || i === 999) {
                const text = await shown();
                if (text !== expected) {
                    wrong.push(`after ${i + 1}: "${text}" in place of "${expected}"`);
                    expected = text || '';
                }
            }
        }
        console.log(`   ${taps} taps, ${drags} drags, ${seconds} second fingers`);
        check('no ghost and no lost touch', wrong.length === 0, wrong.slice(0, 5).join('; '));
        noErrors(tab);
        await browser.kill();
    },
};

// Whatever ends this program ends its browsers.
for (const signal of ['SIGTERM', 'SIGINT', 'SIGHUP'])
    process.on(signal, () => {
        Browser.killAll();
        process.exit(1);
    });
const server = await Site.open();
const minutes = Number(process.env.RAILSIDE_WEB_MINUTES || Infinity);
const end = Number(process.env.RAILSIDE_WEB_BEGAN || Date.now() / 1000) * 1000 + minutes * 60e3;
const untried = [];
let failed = 0;
for (const [name, part] of Object.entries(parts)) {
    if (wanted.length && !wanted.includes(name)) continue;
    if (Date.now() > end) {
        untried.push(name);
        continue;
    }
    const started = Date.now();
    try {
        await part({ address: server.address });
        console.log(`OK ${name} (${((Date.now() - started) / 1000).toFixed(0)} s)`);
    } catch (error) {
        failed++;
        await Browser.pictureOfAll(pictures, `failed-${name}`);
        Browser.killAll();
        console.log(`FAIL ${name}: ${error.stack || error}`);
    }
}
server.close();
console.log(`${held} checks held, ${failed} parts failed`);
if (untried.length) console.log(`web: ${minutes} minutes are over; not tried: ${untried.join(', ')}`);
process.exit(failed ? 1 : untried.length ? 77 : 0);
