// Pictures are read by the browser: upright, as small as they are shown, one at a time.
import { said } from './words.js';

const PHOTO_WAIT_MS = 1500;
const MOST_PIXELS = 25e6; // beyond it the browser shrinks while it decodes

/// Sides of a JPEG as stored, or null.
async function sides(blob) {
    const bytes = new Uint8Array(await blob.slice(0, 262144).arrayBuffer());
    if (bytes[0] !== 0xff || bytes[1] !== 0xd8) return null;
    for (let at = 2; at + 9 < bytes.length;) {
        if (bytes[at] !== 0xff) return null;
        const marker = bytes[at + 1];
        if (marker === 0xff) { at++; continue; }
        if (marker >= 0xc0 && marker <= 0xcf && ![0xc4, 0xc8, 0xcc].includes(marker))
            return { height: bytes[at + 5] << 8 | bytes[at + 6], width: bytes[at + 7] << 8 | bytes[at + 8] };
        at += 2 + (bytes[at + 2] << 8 | bytes[at + 3]);
    }
    return null;
}

let last = Promise.resolve();

/// {width, height, data (RGBA), canvas}; `longest` 0: as large as it is. Throws what the browser throws.
export function decode(blob, longest) {
    const mine = last.then(() => decodeNow(blob, longest));
    last = mine.catch(() => {});
    return mine;
}

async function decodeNow(blob, longest) {
    const options = { imageOrientation: 'from-image' };
    const known = await sides(blob);
    if (known && longest && known.width * known.height > MOST_PIXELS) {
        options.resizeWidth = Math.min(known.width, longest * 2);
        options.resizeQuality = 'high';
    }
    const bitmap = await createImageBitmap(blob, options);
    const scale = longest ? Math.min(1, longest / Math.max(bitmap.width, bitmap.height)) : 1;
    const picture = drawn(bitmap, bitmap.width * scale, bitmap.height * scale);
    bitmap.close();
    return picture;
}

/// The same picture, smaller.
export function shrunk(picture, longest) {
    const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
    return scale < 1 ? drawn(picture.canvas, picture.width * scale, picture.height * scale) : picture;
}

function drawn(source, width, height) {
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(width));
    canvas.height = Math.max(1, Math.round(height));
    const pen = canvas.getContext('2d', { willReadFrequently: true });
    pen.fillStyle = '#fff';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(source, 0, 0, canvas.width, canvas.height);
    const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
    return { width: canvas.width, height: canvas.height, data, canvas };
}

/// The live camera: small frames to look at, one whole picture when asked.
export class Camera {
    /// `told`: {paceMs(): between two frames, state(number), frame(width, height, data), picture(Blob or null, why), which
    /// resolves when it is put away}
    constructor(told) {
        this.told = told;
        this.stream = null;
        this.wanted = false;
        this.still = null;  // takes whole photos, where the browser has it
        this.taking = 0;    // photos under way
        this.video = document.createElement('video');
        this.video.muted = true;
        this.video.playsInline = true;
        this.canvas = document.createElement('canvas');
        this.pen = this.canvas.getContext('2d', { willReadFrequently: true });
    }

    set(open) {
        this.wanted = open;
        if (open) this.start();
        else this.stop();
    }

    async start() {
        const State = { none: 0, opening: 1, live: 2, busy: 3, denied: 4, lost: 5 };
        this.State = State;
        if (!navigator.mediaDevices || !navigator.mediaDevices.getUserMedia) {
            setTimeout(() => this.told.state(State.none));
            return;
        }
        let stream;
        try {
            stream = await navigator.mediaDevices.getUserMedia({
                audio: false,
                video: { facingMode: 'environment', width: { ideal: 4096 }, height: { ideal: 3072 } },
            });
        } catch (error) {
            const of = { NotAllowedError: State.denied, SecurityError: State.denied, NotReadableError: State.busy,
                AbortError: State.busy };
            this.told.state(of[error.name] ?? State.none);
            return;
        }
        if (!this.wanted) {
            stream.getTracks().forEach((track) => track.stop());
            return;
        }
        this.stream = stream;
        const [track] = stream.getVideoTracks();
        this.still = window.ImageCapture ? new ImageCapture(track) : null;
        track.onended = () => { if (this.stream === stream) this.told.state(State.lost); };
        this.video.srcObject = stream;
        await this.video.play().catch(() => {});
        this.look();
    }

    stop() {
        if (this.stream) this.stream.getTracks().forEach((track) => track.stop());
        this.stream = this.still = null;
        this.video.srcObject = null;
        clearTimeout(this.timer);
    }

    look() {
        clearTimeout(this.timer);
        if (!this.stream || this.taking) return;
        const began = performance.now();
        this.showFrame();
        // Without graphics hardware a frame takes its time: fingers have twice as much.
        this.timer = setTimeout(() => this.look(), Math.max(this.told.paceMs(), 2 * (performance.now() - began)));
    }

    showFrame() {
        const { videoWidth: width, videoHeight: height } = this.video;
        if (!width || document.hidden) return;
        const scale = Math.min(1, 640 / Math.max(width, height));
        const sides = [Math.round(width * scale), Math.round(height * scale)];
        if (this.canvas.width !== sides[0] || this.canvas.height !== sides[1])
            [this.canvas.width, this.canvas.height] = sides;
        this.pen.drawImage(this.video, 0, 0, this.canvas.width, this.canvas.height);
        const { data } = this.pen.getImageData(0, 0, this.canvas.width, this.canvas.height);
        this.told.frame(this.canvas.width, this.canvas.height, data);
    }

    /// The preview stands still until the photo is put away: all of the machine is for the photo.
    async shutter() {
        this.taking++;
        let blob = null;
        let why = '';
        try {
            blob = await this.photo() || await this.grab();
        } catch (error) {
            why = said('No picture was taken: {}. Do it again.', error.message || error.name);
        }
        try {
            await this.told.picture(blob, why);
        } finally {
            this.taking--;
            this.look();
        }
    }

    /// The sensor's own photo where the browser offers it in time. Where it once did not, it is not waited for again.
    async photo() {
        const { still } = this;
        if (!still) return null;
        let late = 0;
        const taken = still.takePhoto().then((blob) => (blob.type === 'image/jpeg' ? blob : null), () => null);
        const blob = await Promise.race([taken, new Promise((resolve) => {
            late = setTimeout(() => {
                if (this.still === still) this.still = null;
                resolve(null);
            }, PHOTO_WAIT_MS);
        })]);
        clearTimeout(late);
        return blob;
    }

    grab() {
        const canvas = document.createElement('canvas');
        canvas.width = this.video.videoWidth;
        canvas.height = this.video.videoHeight;
        canvas.getContext('2d').drawImage(this.video, 0, 0);
        return new Promise((resolve, reject) => canvas.toBlob(
            (blob) => (blob ? resolve(blob) : reject(new Error(said('the camera gave no picture')))), 'image/jpeg', 0.92));
    }
}
