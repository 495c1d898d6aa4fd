// Pictures are read by the browser: upright, as small as they are shown, one at a time.

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
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(bitmap.width * scale));
    canvas.height = Math.max(1, Math.round(bitmap.height * scale));
    const pen = canvas.getContext('2d', { willReadFrequently: true });
    pen.fillStyle = '#fff';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.imageSmoothingQuality = 'high';
    pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    bitmap.close();
    const data = pen.getImageData(0, 0, canvas.width, canvas.height).data;
    return { width: canvas.width, height: canvas.height, data, canvas };
}

/// The live camera: small frames to look at, one whole picture when asked.
export class Camera {
    /// `told`: {paceMs(): between two frames, state(number), frame(width, height, data), picture(Blob or null, why)}
    constructor(told) {
        this.told = told;
        this.stream = null;
        this.wanted = false;
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
        stream.getVideoTracks()[0].onended = () => { if (this.stream === stream) this.told.state(State.lost); };
        this.video.srcObject = stream;
        await this.video.play().catch(() => {});
        this.look();
    }

    stop() {
        if (this.stream) this.stream.getTracks().forEach((track) => track.stop());
        this.stream = null;
        this.video.srcObject = null;
        clearTimeout(this.timer);
    }

    look() {
        if (!this.stream) return;
        this.timer = setTimeout(() => this.look(), this.told.paceMs());
        const { videoWidth: width, videoHeight: height } = this.video;
        if (!width || document.hidden) return;
        const scale = Math.min(1, 640 / Math.max(width, height));
        this.canvas.width = Math.round(width * scale);
        this.canvas.height = Math.round(height * scale);
        this.pen.drawImage(this.video, 0, 0, this.canvas.width, this.canvas.height);
        const { data } = this.pen.getImageData(0, 0, this.canvas.width, this.canvas.height);
        this.told.frame(this.canvas.width, this.canvas.height, data);
    }

    async shutter() {
        try {
            this.told.picture(await this.photo() || await this.grab(), '');
        } catch (error) {
            this.told.picture(null, `No picture was taken: ${error.message || error.name}. Do it again.`);
        }
    }

    /// The sensor's own photo where the browser offers it in time; the preview stays as it is.
    async photo() {
        if (!window.ImageCapture || !this.stream) return null;
        const taken = new ImageCapture(this.stream.getVideoTracks()[0]).takePhoto()
            .then((blob) => (blob.type === 'image/jpeg' ? blob : null), () => null);
        return Promise.race([taken, new Promise((resolve) => setTimeout(() => resolve(null), 1500))]);
    }

    grab() {
        const canvas = document.createElement('canvas');
        canvas.width = this.video.videoWidth;
        canvas.height = this.video.videoHeight;
        canvas.getContext('2d').drawImage(this.video, 0, 0);
        return new Promise((resolve, reject) => canvas.toBlob(
            (blob) => (blob ? resolve(blob) : reject(new Error('the camera gave no picture'))), 'image/jpeg', 0.92));
    }
}
