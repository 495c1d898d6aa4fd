// The page: starts the program, gives it turns, and does for it what only a browser can.
import { Store } from './store.js';
import { Camera, decode, shrunk } from './pictures.js';
import { followText, listen } from './input.js';
import { Mirror } from './mirror.js';
import { said, speakBy } from './words.js';

const canvas = document.getElementById('screen');
const field = document.getElementById('field');
const began = performance.now();
let Module = null;
let running = false;

// ---- notices: what the page itself has to say, over the screen, with at most two answers --------------------------

const notices = document.getElementById('notices');
/// `words`, and those of the answers: as said() gave them.
function notice(id, words, { tone = 'plain', answers = [] } = {}) {
    let box = document.getElementById(`notice-${id}`);
    if (!words) {
        if (box) box.remove();
        return;
    }
    if (!box) {
        box = document.createElement('div');
        box.id = `notice-${id}`;
        notices.append(box);
    }
    box.className = tone;
    box.setAttribute('role', tone === 'bad' ? 'alert' : 'status');
    const text = document.createElement('p');
    text.textContent = words;
    box.replaceChildren(text);
    for (const [label, act] of answers) {
        const button = document.createElement('button');
        button.textContent = label;
        button.addEventListener('click', act);
        box.append(button);
    }
}

// ---- calls into the program ------------------------------------------------------------------------------------

function withText(text, call) {
    const size = Module.lengthBytesUTF8(text) + 1;
    const at = Module._malloc(size);
    Module.stringToUTF8(text, at, size);
    try {
        return call(at);
    } finally {
        Module._free(at);
    }
}

function withBytes(bytes, call) {
    const at = Module._malloc(Math.max(1, bytes.length));
    Module.HEAPU8.set(bytes, at);
    try {
        return call(at);
    } finally {
        Module._free(at);
    }
}

const calls = {
    touch: (phase, id, x, y, time) => Module._web_touch(phase, id, x, y, time),
    wheel: (x, y, notches) => Module._web_wheel(x, y, notches),
    key: (name, shift, ctrl, alt, meta) =>
        withText(name, (at) => Module._web_key(at, shift ? 1 : 0, ctrl ? 1 : 0, alt ? 1 : 0, meta ? 1 : 0)) !== 0,
    text: (text) => withText(text, (at) => Module._web_text(at)),
    wantsText: () => Module._web_wants_text() !== 0,
    editedText: () => Module.UTF8ToString(Module._web_edited_text()),
    replaceText: (text) => withText(text, (at) => Module._web_replace_text(at)),
    controls: () => Module.UTF8ToString(Module._web_controls()),
};

// ---- turns: one after each event, one when a frame falls due, none otherwise ---------------------------------------

let asked = 0;
let timer = 0;
let framesSeen = 0;
let tookMs = 0;

function turn(atOnce) {
    if (!running) return;
    cancelAnimationFrame(asked);
    clearTimeout(timer);
    asked = timer = 0;
    // After a long turn the end of a touch may wait to be told: it comes first, or a tap would count as held.
    if (atOnce !== true && page.fingersDown() && tookMs > 100) {
        tookMs = 0;
        timer = setTimeout(turn, 0);
        return;
    }
    const began = performance.now();
    const due = Module._web_turn(Math.max(began / 1000, page.lastTouch || 0), atOnce === true ? 1 : 0);
    keepSettings();
    store.flush();
    const frames = Module._web_frames();
    const drawn = frames !== framesSeen;
    framesSeen = frames;
    tookMs = performance.now() - began;
    if (drawn || calls.wantsText() === field.hidden) {
        const json = calls.controls();
        const controls = json === mirror.before ? lastControls : JSON.parse(json);
        lastControls = controls;
        followText(page, controls);
        if (due < 0 || due > 0.03) mirror.update(json, controls, canvas.clientWidth / canvas.width);
    }
    if (due < 0) return;
    if (due < 0.02) asked = requestAnimationFrame(turn);
    else timer = setTimeout(turn, due * 1000);
}
let lastControls = [];

function wake() {
    if (!asked && running) asked = requestAnimationFrame(turn);
}

// ---- the storage ------------------------------------------------------------------------------------------------

const store = new Store({
    arrived: (count) => {
        Module._web_arrived(count);
        Module._web_news();
        askToPersist();
        wake();
    },
    trouble: (words) => {
        withText(words, (at) => Module._web_trouble(at));
        notice('trouble', words, { tone: 'bad' });
        Module._web_news();
        wake();
    },
    stored: (hash) => forgetFile(hash),
});

const vaultFile = (hash) => `/bench/vault/${hash.slice(0, 2)}/${hash}`;
function forgetFile(hash) {
    try {
        Module.FS.unlink(vaultFile(hash));
    } catch (error) {
        // It was not there.
    }
}

function keepSettings() {
    try {
        if (Module.FS.stat('/bench/settings.json').mtime.getTime() === settingsTime) return;
        settingsTime = Module.FS.stat('/bench/settings.json').mtime.getTime();
        store.setSettings(Module.FS.readFile('/bench/settings.json', { encoding: 'utf8' }));
    } catch (error) {
        // None yet.
    }
}
let settingsTime = 0;

let persisted = false;
let askedToPersist = false;
async function askToPersist() {
    if (askedToPersist || !navigator.storage || !navigator.storage.persist) return;
    askedToPersist = true;
    persisted = await navigator.storage.persist();
    await tellSafety();
}

async function tellSafety() {
    let words;
    const standalone = matchMedia('(display-mode: standalone)').matches || navigator.standalone === true;
    if (navigator.storage && navigator.storage.persisted) persisted = await navigator.storage.persisted();
    if (persisted)
        words = said('Safe: the browser has promised to keep it until you delete it yourself.');
    else if (/iP(hone|ad|od)/.test(navigator.userAgent) && !standalone)
        words = said('May be deleted: this browser deletes what a page keeps after seven days without a visit. Put ' +
            'Railside on the home screen first (Share, Add to Home Screen), or write each job as a job file today.');
    else
        words = said('May be deleted by the browser when the device runs short of room. Installing Railside from the ' +
            'browser\'s menu makes that less likely; a job file, written from a job\'s sheet, makes it harmless.');
    if (navigator.storage && navigator.storage.estimate) {
        const { usage, quota } = await navigator.storage.estimate();
        if (quota)
            words += ` ${said('{} MB are used of the {} MB it offers.', (usage / 1e6).toFixed(1), Math.floor(quota / 1e6))}`;
    }
    withText(words, (at) => Module._web_safety(at));
}

/// One page writes. Resolves to true when it is this one.
function becomeWriter() {
    if (!navigator.locks) return Promise.resolve(true);
    const forLife = new Promise(() => {});
    const within = (options) => new Promise((resolve) => {
        navigator.locks.request('railside-writer', options, (lock) => {
            resolve(Boolean(lock));
            return lock ? forLife : undefined;
        }).catch(() => resolve(false));
    });
    // A page that is just being left lets go in a moment.
    return within({ ifAvailable: true }).then((mine) => mine || within({ signal: AbortSignal.timeout(700) }));
}

// ---- what the program asks the page ----------------------------------------------------------------------------

const KINDS = [
    { accept: 'image/jpeg,image/png', multiple: true },
    { accept: 'image/jpeg,image/png', capture: 'environment' },
    { accept: '.csv,.txt,.wav' },
    { accept: '.railjob,application/octet-stream' },
    { accept: '.cir,.json,application/json,application/octet-stream', multiple: true, circuit: true },
];

const camera = new Camera({
    paceMs: () => Math.max(66, 2 * tookMs), // a slow machine keeps half its time for fingers
    state: (state) => { Module._web_camera_state(state); wake(); },
    frame: (width, height, data) => {
        withBytes(data, (at) => Module._web_camera_frame(width, height, at));
        wake();
    },
    picture: async (blob, why) => {
        if (!blob) {
            withText(why, (at) => Module._web_camera_picture(0, 0, at));
            wake();
            return;
        }
        photoTimes.taken = performance.now();
        const bytes = new Uint8Array(await blob.arrayBuffer());
        const picture = await hold(blob, bytes);
        photoTimes.decoded = performance.now();
        entering(picture, () => {
            withBytes(bytes, (at) => withText('', (none) => Module._web_camera_picture(at, bytes.length, none)));
            turn();
        });
        photoTimes.filed = performance.now();
        await store.settled();
        photoTimes.stored = performance.now();
    },
});
const photoTimes = {}; // of the last one, in the page's milliseconds: for the tests

/// Decodes for showing and has the program remember it for these bytes. What cannot be read is not held: null.
async function hold(blob, bytes) {
    try {
        const picture = await decode(blob, SHOWN_LONGEST);
        withBytes(bytes, (at) => withBytes(picture.data, (rgba) =>
            Module._web_hold(at, bytes.length, picture.width, picture.height, rgba)));
        return picture;
    } catch (error) {
        return null; // the program says what is wrong with it
    }
}

/// The program takes in what was held: the file it writes meanwhile is that picture's.
function entering(picture, act) {
    entered = picture;
    try {
        act();
    } finally {
        entered = null;
        Module._web_let_go();
    }
}

const SHOWN_LONGEST = 1600;
let entered = null;
let newest = { hash: '', picture: null }; // what was taken in last: it need not be decoded once more to be shown

const safeName = (name) => name.replace(/[^\w .()-]/g, '_').slice(-80) || 'file';

function refused(id, words) {
    notice(id, words, { tone: 'bad', answers: [[said('Well'), () => notice(id, '')]] });
}

let incoming = 0; // files being taken in
async function takeIn(files) {
    incoming += files.length;
    for (const file of files)
        await takeInOne(file).catch(() => refused('unread',
            said('{} could not be read: it has changed or is gone. Choose it again.', file.name)))
            .finally(() => { incoming--; });
}

/// A netlist and what stands at its positions, chosen together: they come to lie side by side under one name.
async function takeInCircuit(files) {
    const [netlist, positions] = ['.cir', '.json'].map((end) =>
        files.filter((file) => file.name.toLowerCase().endsWith(end)));
    if (files.length !== 2 || netlist.length !== 1 || positions.length !== 1) {
        refused('pair', said('A circuit is two files, chosen together: the netlist (.cir) and what each of its ' +
            'positions is there for (.json).'));
        return;
    }
    notice('pair', '');
    const beside = `/in/${safeName(netlist[0].name).slice(0, -4)}.json`;
    incoming++;
    try {
        Module.FS.writeFile(beside, new Uint8Array(await positions[0].arrayBuffer()));
        await takeIn(netlist);
        Module.FS.unlink(beside);
    } catch (error) {
        refused('pair', said('{} could not be read. Choose both files again.', positions[0].name));
    } finally {
        incoming--;
    }
}

async function takeInOne(file) {
    let name = safeName(file.name);
    if (/^image\//.test(file.type) && !/\.(jpe?g|png)$/i.test(name))
        name += file.type === 'image/png' ? '.png' : '.jpg';
    photoTimes.asked = performance.now();
    const bytes = new Uint8Array(await file.arrayBuffer());
    const path = `/in/${name}`;
    photoTimes.taken = performance.now();
    const picture = /\.(jpe?g|png)$/i.test(name) ? await hold(file, bytes) : null;
    photoTimes.decoded = performance.now();
    Module.FS.writeFile(path, bytes);
    entering(picture, () => {
        withText(path, (at) => Module._web_drop_file(at));
        turn();
    });
    photoTimes.filed = performance.now();
    store.settled().then(() => { photoTimes.stored = performance.now(); });
    try {
        Module.FS.unlink(path);
    } catch (error) {
        // The program has moved it.
    }
}

// ---- files for the person: shared where the system can, else saved among the downloads -----------------------------

let given = []; // ready, neither shared nor saved yet

function save(file) {
    const link = document.createElement('a');
    link.href = URL.createObjectURL(file);
    link.download = file.name;
    document.body.append(link);
    link.click();
    setTimeout(() => { URL.revokeObjectURL(link.href); link.remove(); }, 60000);
}

function offerGiven() {
    const files = given;
    if (!files.length) {
        notice('give', '');
        return;
    }
    const names = files.map((file) => file.name).join(', ');
    const done = () => {
        given = given.filter((file) => !files.includes(file));
        offerGiven();
    };
    notice('give', files.length > 1 ? said('{} are ready.', names) : said('{} is ready.', names), { answers: [
        [said('Share'), () => {
            navigator.share({ files, title: names }).then(done, (error) => {
                if (error.name === 'AbortError') return; // thought better of: it is still offered
                files.forEach(save); // as where the system shares no files of this kind
                done();
                notice('saved', said('This device does not share {}: saved among the downloads instead.', names),
                    { answers: [[said('Well'), () => notice('saved', '')]] });
            });
        }],
        [said('Save'), () => { files.forEach(save); done(); }],
    ] });
}

const page = {
    canvas, field, calls, turn, wake, store, camera, fingersDown: () => false,

    ask(what) {
        const kind = KINDS[what];
        const input = document.createElement('input');
        input.type = 'file';
        input.id = 'chooser';
        input.hidden = true;
        input.accept = kind.accept;
        if (kind.multiple) input.multiple = true;
        if (kind.capture) input.setAttribute('capture', kind.capture);
        const old = document.getElementById('chooser');
        if (old) old.remove();
        document.body.append(input); // kept: some browsers forget one that is nowhere
        const take = kind.circuit ? takeInCircuit : takeIn;
        input.addEventListener('change', () => { take([...input.files]).finally(() => input.remove()); });
        input.click();
    },

    give(path) {
        const bytes = Module.FS.readFile(path);
        Module.FS.unlink(path);
        const name = path.slice(path.lastIndexOf('/') + 1);
        const types = { pdf: 'application/pdf', html: 'text/html', txt: 'text/plain', jpg: 'image/jpeg',
            png: 'image/png' };
        const type = types[name.slice(name.lastIndexOf('.') + 1)] || 'application/octet-stream';
        const file = new File([bytes], name, { type });
        if (!matchMedia('(pointer: coarse)').matches || !navigator.canShare || !navigator.canShare({ files: [file] })) {
            save(file);
            return;
        }
        // Sharing is allowed within a touch only: the bytes are ready before it.
        given = [...given, file];
        offerGiven();
    },

    file(hash, bytes) {
        store.addFile(hash, bytes);
        if (entered) newest = { hash, picture: entered };
    },

    shutter() {
        photoTimes.asked = performance.now();
        camera.shutter();
    },

    async picture(hash, longest, ticket) {
        const key = `${hash}-${longest}`;
        try {
            const known = newest.hash === hash && longest <= SHOWN_LONGEST ? newest.picture : null;
            const copy = known ? undefined : await store.copy(key).catch(() => undefined);
            const blob = known ? null : copy || await store.file(hash);
            if (!known && !blob) throw new Error('gone');
            const picture = known ? shrunk(known, longest) : await decode(blob, longest);
            if (!copy) picture.canvas.toBlob((small) => { if (small) store.keepCopy(key, small); }, 'image/jpeg', 0.9);
            withBytes(picture.data, (at) => withText('', (none) =>
                Module._web_image(ticket, picture.width, picture.height, at, none)));
            if (known) photoTimes.shown = performance.now();
        } catch (error) {
            withText(error.message === 'gone'
                ? said('A photo is not in the browser\'s storage any more. It may be in a job file of this job.')
                : said('A photo could not be read from the browser\'s storage. Load the page again; if that does not ' +
                  'help, take the job\'s file in.'), (at) => Module._web_image(ticket, 0, 0, 0, at));
        }
        wake();
    },

    async bring(hashes, pictures, ticket) {
        const mine = [];
        await null; // it is asked for within a frame, and the answer draws one
        try {
            for (const hash of new Set(hashes)) {
                const blob = await store.file(hash);
                if (!blob) continue; // the program says which are gone
                const bytes = new Uint8Array(await blob.arrayBuffer());
                Module.FS.mkdirTree(vaultFile(hash).slice(0, -65));
                Module.FS.writeFile(vaultFile(hash), bytes);
                mine.push(hash);
                if (pictures) await hold(blob, bytes);
            }
            brought.set(ticket, mine);
            withText('', (at) => Module._web_brought(ticket, at));
        } catch (error) {
            brought.set(ticket, mine);
            withText(said('The browser\'s storage does not give the photos back at the moment. Do it again.'), (at) =>
                Module._web_brought(ticket, at));
        }
        turn();
    },

    broughtUsed(ticket) {
        for (const hash of brought.get(ticket) || []) if (!store.pending.has(hash)) forgetFile(hash);
        brought.delete(ticket);
    },
};
const brought = new Map();

const mirror = new Mirror(document.getElementById('mirror'), (name) => {
    withText(name, (at) => Module._web_tap_control(at));
    turn();
});

// ---- the canvas: as many pixels as the display has, sized by the style sheet only ----------------------------------

/// Millimetres are not known to a browser: what phones, tablets and desks usually have a CSS pixel.
function pixelsPerMm() {
    if (!matchMedia('(pointer: coarse)').matches) return 3.9;
    return Math.min(screen.width, screen.height) < 600 ? 6.0 : 5.4;
}

function measure() {
    const density = Math.min(window.devicePixelRatio || 1, 3);
    const width = Math.max(1, Math.round(canvas.clientWidth * density));
    const height = Math.max(1, Math.round(canvas.clientHeight * density));
    return { width, height, perMm: pixelsPerMm() * density };
}

function resize() {
    const { width, height, perMm } = measure();
    if (canvas.width !== width) canvas.width = width;
    if (canvas.height !== height) canvas.height = height;
    if (!running) return;
    mirror.before = '';
    Module._web_resize(width, height, perMm);
    turn(); // at once: a canvas of another size is blank
}

// ---- a new version: fetched behind the screen, taken into use when nothing is half done -----------------------------

const LOOK_AGAIN_MS = 3600e3;
const TAKE_OVER_LOOK_MS = 300;

/// What a reload now would lose, or at least break off.
function halfDone() {
    const typed = lastControls.some(([name, , , value]) => name === 'keypad/typed' && value !== '');
    return store.unsaved > 0 || calls.wantsText() || typed || camera.taking > 0 || incoming > 0 || brought.size > 0 ||
        given.length > 0;
}

async function serve() {
    if (!('serviceWorker' in navigator)) return;
    const registration = await navigator.serviceWorker.register('./sw.js', { updateViaCache: 'none' });
    let taking = false;
    let waits = 0;
    const takeOverOnce = () => {
        if (halfDone() || !registration.waiting) return false;
        taking = true;
        clearInterval(waits);
        notice('version', '');
        registration.waiting.postMessage('take over');
        return true;
    };
    const takeOver = () => {
        if (takeOverOnce()) return;
        notice('version', said('The new version takes over as soon as nothing is half typed or unsaved.'),
            { answers: [[said('Not now'), () => { clearInterval(waits); notice('version', ''); }]] });
        waits = setInterval(takeOverOnce, TAKE_OVER_LOOK_MS);
    };
    const offer = () => {
        if (!registration.waiting || !navigator.serviceWorker.controller) return;
        clearInterval(waits); // another one, newer still
        notice('version', said('A new version of Railside is ready.'), { answers: [
            [said('Use it now'), takeOver],
            [said('Later'), () => notice('version', '')],
        ] });
    };
    const follow = (coming) => {
        if (coming) coming.addEventListener('statechange', () => { if (coming.state === 'installed') offer(); });
    };
    navigator.serviceWorker.addEventListener('controllerchange', () => { if (taking) location.reload(); });
    registration.addEventListener('updatefound', () => follow(registration.installing));
    follow(registration.installing);
    offer();
    // An installed page may stay open for weeks: it looks when it is taken up again.
    let looked = Date.now();
    document.addEventListener('visibilitychange', () => {
        if (document.hidden || Date.now() - looked < LOOK_AGAIN_MS) return;
        looked = Date.now();
        registration.update().catch(() => {}); // no network: another time
    });
}

// ---- the start -------------------------------------------------------------------------------------------------

function failed(words) {
    document.getElementById('opening').hidden = true;
    notice('start', words, { tone: 'bad', answers: [[said('Try again'), () => location.reload()]] });
}

/// The words the page was packed with (pack.mjs), or ''. Without them it speaks English.
async function fetchCatalogue() {
    const { words } = document.documentElement.dataset;
    if (!words) return '';
    const answer = await fetch(words).catch(() => null);
    return answer && answer.ok ? answer.text() : '';
}

function speak(po) {
    if (!po) return;
    const wrong = withText(po, (at) => Module.UTF8ToString(Module._web_speak(at)));
    if (wrong) console.warn(wrong);
    speakBy((english) => withText(english, (at) => Module.UTF8ToString(Module._web_words(at))));
}

async function start() {
    // eslint-disable-next-line no-undef
    const making = RailsideModule({ canvas, page, locateFile: (name) => new URL(name, import.meta.url).href });
    let bench = { bench: null, lines: [], settings: null };
    let closed = null;
    const catalogue = fetchCatalogue();
    const writer = await becomeWriter();
    try {
        await store.open();
        bench = await store.read();
    } catch (error) {
        closed = error;
    }
    Module = await making;
    const { FS } = Module;
    speak(await catalogue);
    FS.mkdirTree('/bench');
    if (bench.bench) FS.writeFile('/bench/bench.db', bench.bench);
    if (bench.settings) FS.writeFile('/bench/settings.json', bench.settings);
    store.readOnly = !writer;
    store.fold = () => FS.readFile('/bench/bench.db');
    Module._web_may_write(writer && !closed ? 1 : 0);
    resize();
    const { width, height, perMm } = measure();
    const wanted = new URLSearchParams(location.search).get('job') || '';
    const journal = bench.lines.join('\n');
    const wrong = withText(journal, (lines) => withText(wanted, (job) =>
        Module.UTF8ToString(Module._web_start(lines, job, width, height, perMm))));
    if (wrong) {
        failed(wrong);
        return;
    }
    running = true;
    document.getElementById('opening').hidden = true;
    listen(page);
    new ResizeObserver(resize).observe(canvas);
    matchMedia(`(resolution: ${window.devicePixelRatio}dppx)`).addEventListener('change', resize);
    if (window.visualViewport)
        window.visualViewport.addEventListener('resize', () => {
            document.documentElement.style.setProperty('--shown', `${window.visualViewport.height}px`);
        });
    canvas.addEventListener('webglcontextlost', (event) => { event.preventDefault(); Module._web_context_lost(); });
    canvas.addEventListener('webglcontextrestored', () => { Module._web_context_restored(); turn(); });
    document.addEventListener('visibilitychange', () => { store.flush(); wake(); });
    window.addEventListener('beforeunload', (event) => { if (store.unsaved) event.preventDefault(); });
    turn();
    page.firstFrame = performance.now();
    window.railside = { // for the tests of the page, and for those who are curious
        began, firstFrame: page.firstFrame, store, page, resting: () => !asked && !store.unsaved, frames: () => Module._web_frames(),
        controls: () => JSON.parse(calls.controls()), notice, photoTimes,
    };

    if (closed) {
        notice('closed', said('This browser does not let Railside store anything (a private window, or blocked in its ' +
            'settings), so nothing can be written down here. Open it in an ordinary window.'), { tone: 'bad' });
    } else if (!writer) {
        notice('second', said('Railside is open in another tab or window: here it can only be read.'), { answers: [
            [said('Load again'), () => location.reload()]] });
    } else {
        store.foldIfLong();
    }
    await tellSafety();
    // Without it everything works, only not without a network.
    await serve().catch(() => {});
}

start().catch((error) => failed(said('Railside could not start ({}). Load the page again; what was written down is ' +
    'still in the browser.', error.message || error)));
