// What lasts: the bench in IndexedDB, written through at once and acknowledged when it is on the disk.
//
//   journal  one record for each line the program wrote, in order (key: a number that grows)
//   files    photos and recordings as Blobs (key: SHA-256)
//   copies   smaller pictures for showing (key: SHA-256-longest side); can be made again
//   about    "bench": the database with all lines up to a key folded in, {upTo, bytes}; "settings": a text
//
// A start is the bench's database and the lines after it. Lines and the files they name go in one transaction; a
// folded database goes in the one that drops its lines. Nothing is taken back before it is safe.
import { said } from './words.js';

const NAME = 'railside';
const FOLD_AFTER = 200; // lines
const SILENCE_MS = 5000;
const AGAIN_MS = 4000;

const asked = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
});

const ended = (transaction) => new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error || new DOMException('aborted', 'AbortError'));
});

/// An error of the storage as a sentence, with what to do.
export function wordsFor(error) {
    const lost = said('What was entered last is not safe yet and is tried again every few seconds: leave this page open.');
    switch (error && error.name) {
    case 'QuotaExceededError':
        return said('The browser has no more room for this bench, as when a disk is full. {} Free space on the device, ' +
            'or save the job to a file from its sheet.', lost);
    case 'SilenceError':
        return said('The browser\'s storage does not answer. {}', lost);
    case 'InvalidStateError':
    case 'UnknownError':
        return said('The browser has lost its storage for a moment. {} If this stays, save the job to a file from its ' +
            'sheet, then load the page again.', lost);
    case 'SecurityError':
    case 'NotAllowedError':
        return said('The browser does not let this page store anything (a private window, or blocked in its settings). ' +
            '{} Save the job to a file from its sheet.', lost);
    default:
        return said('The browser could not store it ({}). {} Save the job to a file from its sheet.',
            (error && error.name) || said('no reason given'), lost);
    }
}

export class Store {
    /// `told`: {arrived(count), trouble(words or ''), stored(hash)}
    constructor(told) {
        this.told = told;
        this.db = null;
        this.queue = [];      // not yet in a transaction
        this.batch = null;    // in one
        this.pending = new Map(); // hash -> Blob, not yet safe
        this.lines = 0;       // in the journal, after the folded database
        this.lastKey = 0;
        this.settings = null;
        this.readOnly = false;
        this.inTrouble = false;
        this.settling = [];   // who waits for the end of it
        this.fold = null;     // gives the database's bytes
    }

    async open() {
        const request = indexedDB.open(NAME, 1);
        request.onupgradeneeded = () => {
            const db = request.result;
            db.createObjectStore('journal', { autoIncrement: true });
            db.createObjectStore('files');
            db.createObjectStore('copies');
            db.createObjectStore('about');
        };
        this.db = await new Promise((resolve, reject) => {
            request.onsuccess = () => resolve(request.result);
            request.onerror = () => reject(request.error);
            request.onblocked = () => reject(new DOMException('blocked', 'InvalidStateError'));
        });
        this.db.onclose = () => { this.db = null; };
        this.db.onversionchange = () => { this.db.close(); this.db = null; };
    }

    /// {bench: Uint8Array or null, lines: [text], settings: text or null}
    async read() {
        const transaction = this.db.transaction(['journal', 'about'], 'readonly');
        const journal = transaction.objectStore('journal');
        const about = transaction.objectStore('about');
        const [lines, keys, bench, settings] = await Promise.all(
            [journal.getAll(), journal.getAllKeys(), about.get('bench'), about.get('settings')].map(asked));
        this.lines = lines.length;
        this.lastKey = keys.length ? keys[keys.length - 1] : (bench ? bench.upTo : 0);
        this.settings = settings ?? null;
        this.hasBench = Boolean(bench);
        return { bench: bench ? bench.bytes : null, lines, settings: this.settings };
    }

    addLine(text) { this.queue.push({ line: text }); }

    addFile(hash, bytes) {
        const blob = new Blob([bytes]);
        this.pending.set(hash, blob);
        this.queue.push({ hash, blob });
    }

    setSettings(text) {
        if (text === this.settings || this.readOnly) return;
        this.settings = text;
        this.queue.push({ settings: text });
    }

    /// When nothing waits any more, or it is known that it cannot be written.
    settled() {
        if (!this.unsaved || this.inTrouble) return Promise.resolve();
        return new Promise((resolve) => { this.settling.push(resolve); });
    }

    release() { for (const resolve of this.settling.splice(0)) resolve(); }

    get unsaved() { return this.queue.length + (this.batch ? this.batch.length : 0); }

    /// Writes what waits. Called after every turn; does nothing when there is nothing.
    flush() {
        if (this.batch || !this.queue.length) return;
        this.batch = this.queue;
        this.queue = [];
        let silence = setTimeout(() => this.fail(new DOMException('no answer', 'SilenceError')), SILENCE_MS);
        this.write(this.batch).then(() => {
            clearTimeout(silence);
            const batch = this.batch;
            this.batch = null;
            for (const one of batch)
                if (one.hash) {
                    this.pending.delete(one.hash);
                    this.told.stored(one.hash);
                }
            this.clear();
            this.told.arrived(batch.filter((one) => one.settings === undefined).length);
            if (this.queue.length) {
                this.flush();
            } else {
                this.release();
                this.foldIfLong();
            }
        }, (error) => {
            clearTimeout(silence);
            this.queue = this.batch.concat(this.queue);
            this.batch = null;
            this.fail(error);
            setTimeout(() => this.flush(), AGAIN_MS);
        });
    }

    async write(batch) {
        if (!this.db) await this.open();
        let transaction;
        try {
            transaction = this.db.transaction(['journal', 'files', 'about'], 'readwrite', { durability: 'strict' });
        } catch (error) { // the connection is dead: once more with a new one
            await this.open();
            transaction = this.db.transaction(['journal', 'files', 'about'], 'readwrite', { durability: 'strict' });
        }
        const done = ended(transaction);
        const journal = transaction.objectStore('journal');
        let lines = 0;
        let last = this.lastKey;
        for (const one of batch) {
            if (one.line !== undefined) {
                journal.add(one.line).onsuccess = (event) => { last = event.target.result; };
                lines++;
            } else if (one.hash) {
                transaction.objectStore('files').put(one.blob, one.hash);
            } else {
                transaction.objectStore('about').put(one.settings, 'settings');
            }
        }
        await done;
        this.lines += lines;
        this.lastKey = last;
    }

    fail(error) {
        this.inTrouble = true;
        this.release();
        this.told.trouble(wordsFor(error));
    }

    clear() {
        if (!this.inTrouble) return;
        this.inTrouble = false;
        this.told.trouble('');
    }

    /// Puts the database as it is now in place of its lines. Only while nothing is under way.
    async foldIfLong() {
        if (this.readOnly || !this.fold || this.unsaved || (this.hasBench && this.lines < FOLD_AFTER)) return;
        const bytes = this.fold();
        const upTo = this.lastKey;
        const folded = this.lines;
        try {
            const transaction = this.db.transaction(['journal', 'about'], 'readwrite', { durability: 'strict' });
            const done = ended(transaction);
            transaction.objectStore('about').put({ upTo, bytes }, 'bench');
            if (upTo) transaction.objectStore('journal').delete(IDBKeyRange.upperBound(upTo));
            await done;
            this.hasBench = true;
            this.lines -= folded;
        } catch (error) {
            // The lines are still there: it is only not shorter.
        }
    }

    async file(hash) {
        const waiting = this.pending.get(hash);
        if (waiting) return waiting;
        if (!this.db) await this.open();
        return asked(this.db.transaction('files').objectStore('files').get(hash));
    }

    async copy(key) {
        if (!this.db) await this.open();
        return asked(this.db.transaction('copies').objectStore('copies').get(key));
    }

    keepCopy(key, blob) {
        if (this.readOnly || !this.db) return;
        try {
            this.db.transaction('copies', 'readwrite').objectStore('copies').put(blob, key);
        } catch (error) {
            // It can be made again.
        }
    }
}
