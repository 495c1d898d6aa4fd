// Fingers, mouse, keys and the system's text field, from the page into the program.

const Phase = { begin: 0, move: 1, end: 2, cancel: 3 };

/// `page`: {canvas, calls, turn(), wake()}. Touches go in with real identifiers; the mouse is finger 0.
export function listen(page) {
    const { canvas, calls } = page;
    const scaled = (x, y) => {
        const rect = canvas.getBoundingClientRect();
        return [(x - rect.left) * canvas.width / rect.width, (y - rect.top) * canvas.height / rect.height];
    };
    const now = (event) => (event.timeStamp > 0 ? event.timeStamp : performance.now()) / 1000;

    // ---- fingers. preventDefault keeps the browser from making mouse events of them, which would press twice.
    // A page that is busy hears of a touch late. The finger's times all count from when its touch was heard, or what was
    // drawn before its end is heard would take a tap for a hold.
    const down = new Map(); // finger: how late its touch was heard, in seconds
    page.fingersDown = () => down.size > 0;
    page.lastTouch = 0;
    const heard = (id, phase, event) => {
        if (phase === Phase.begin) down.set(id, Math.max(0, performance.now() / 1000 - now(event)));
        page.lastTouch = now(event) + down.get(id);
        return page.lastTouch;
    };
    const give = (phase, touch, event) => {
        const id = touch.identifier + 1;
        const [x, y] = scaled(touch.clientX, touch.clientY);
        if (phase !== Phase.begin && !down.has(id)) return;
        const at = heard(id, phase, event);
        if (phase === Phase.end || phase === Phase.cancel) down.delete(id);
        calls.touch(phase, id, x, y, at);
    };
    const options = { capture: true, passive: false };
    const touched = (phase) => (event) => {
        if (event.target !== canvas) return;
        event.preventDefault();
        event.stopImmediatePropagation();
        for (const touch of event.changedTouches) give(phase, touch, event);
        // What a tap causes (a file chooser, the keyboard, sharing) is allowed within its own event only.
        if (phase === Phase.end) page.turn(true);
        else page.wake();
    };
    window.addEventListener('touchstart', touched(Phase.begin), options);
    window.addEventListener('touchmove', touched(Phase.move), options);
    window.addEventListener('touchend', touched(Phase.end), options);
    window.addEventListener('touchcancel', touched(Phase.cancel), options);
    // A browser that forgets to end a touch (an alert, a gesture of the system's) must not leave a finger down.
    const forget = () => {
        for (const id of down.keys()) calls.touch(Phase.cancel, id, 0, 0, performance.now() / 1000);
        down.clear();
        page.wake();
    };
    window.addEventListener('blur', forget);
    document.addEventListener('visibilitychange', () => { if (document.hidden) forget(); });
    for (const name of ['contextmenu', 'gesturestart', 'dblclick', 'selectstart'])
        canvas.addEventListener(name, (event) => event.preventDefault());

    // ---- the mouse
    let pressed = false;
    const mouse = (phase) => (event) => {
        if (event.button !== 0 && phase !== Phase.move) return;
        if (phase === Phase.begin) {
            if (event.target !== canvas) return;
            pressed = true;
            event.preventDefault();
            if (document.activeElement && document.activeElement !== page.field) document.activeElement.blur();
        } else if (!pressed) {
            return;
        }
        if (phase === Phase.end) pressed = false;
        const [x, y] = scaled(event.clientX, event.clientY);
        calls.touch(phase, 0, x, y, now(event));
        if (phase === Phase.end) page.turn(true);
        else page.wake();
    };
    window.addEventListener('mousedown', mouse(Phase.begin));
    window.addEventListener('mousemove', mouse(Phase.move));
    window.addEventListener('mouseup', mouse(Phase.end));
    canvas.addEventListener('wheel', (event) => {
        event.preventDefault();
        const [x, y] = scaled(event.clientX, event.clientY);
        const lines = event.deltaMode === 0 ? event.deltaY / 100 : event.deltaY / 3;
        calls.wheel(x, y, -lines);
        page.wake();
    }, { passive: false });

    // ---- keys
    window.addEventListener('keydown', (event) => {
        if (event.isComposing || event.keyCode === 229) return;
        if (event.target === page.field) {
            if (event.key !== 'Enter' && event.key !== 'Escape') return; // the field's own
        } else if (event.target.closest && event.target.closest('#notices')) {
            return;
        }
        let taken = calls.key(event.key, event.shiftKey, event.ctrlKey, event.altKey, event.metaKey);
        if (!taken && [...event.key].length === 1 && !event.ctrlKey && !event.altKey && !event.metaKey &&
            event.target !== page.field) {
            calls.text(event.key);
            taken = true;
        }
        if (taken) {
            event.preventDefault();
            page.turn();
        }
    });

    // ---- texts: a real field of the browser's lies over the program's, so that caret, dictation, corrections and
    // pasting are the system's own
    page.field.addEventListener('input', () => {
        calls.replaceText(page.field.value);
        page.wake();
    });
}

/// Shows, places or takes away the text field. `controls` as web_controls gives them.
export function followText(page, controls) {
    const { field, canvas, calls } = page;
    if (!calls.wantsText()) {
        if (!field.hidden) {
            field.blur();
            field.hidden = true;
        }
        return;
    }
    const line = controls.find((control) => control[0] === 'text/line');
    const rect = canvas.getBoundingClientRect();
    if (line) {
        const scale = rect.width / canvas.width;
        field.style.left = `${rect.left + line[7] * scale}px`;
        field.style.top = `${rect.top + line[8] * scale}px`;
        field.style.width = `${(line[9] - line[7]) * scale}px`;
        field.style.height = `${(line[10] - line[8]) * scale}px`;
        field.setAttribute('aria-label', line[2]);
    }
    if (field.hidden) {
        field.value = calls.editedText();
        field.hidden = false;
        field.focus({ preventScroll: true });
        field.setSelectionRange(field.value.length, field.value.length);
    }
}
