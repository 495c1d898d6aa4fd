// The screen for those who cannot see it: each control of the program as a real element, over its place on the
// canvas and as large, transparent to the eye and to fingers. Activating one taps the control.

const ROLES = {
    button: ['button'], key: ['button'], field: ['button'], tab: ['tab', 'aria-selected'],
    tick: ['checkbox', 'aria-checked'], choice: ['radio', 'aria-checked'], photo: ['img'], plot: ['img'],
    figure: ['note'], text: ['textbox'],
};

export class Mirror {
    constructor(root, tap) {
        this.root = root;
        this.tap = tap;
        this.shown = new Map(); // name -> {element, said}
        this.before = '';
    }

    /// `json`: what web_controls gave; `scale`: CSS pixels a canvas pixel. Returns whether anything changed.
    update(json, controls, scale) {
        if (json === this.before) return false;
        this.before = json;
        const gone = new Set(this.shown.keys());
        let previous = null;
        let focused = null;
        for (const control of controls) {
            const [name, role, , , , , focus] = control;
            if (name === 'text/line') continue; // the real field is there itself
            gone.delete(name);
            let one = this.shown.get(name);
            if (!one || one.role !== role) {
                if (one) one.element.remove();
                one = { element: this.make(name, role), role, said: '' };
                this.shown.set(name, one);
            }
            const said = JSON.stringify(control) + scale;
            if (said !== one.said) {
                one.said = said;
                this.describe(one.element, control, scale);
            }
            // In the order of the screen, moved only when it is elsewhere.
            const next = previous ? previous.nextSibling : this.root.firstChild;
            if (next !== one.element) this.root.insertBefore(one.element, next);
            previous = one.element;
            if (focus) focused = one.element;
        }
        for (const name of gone) {
            this.shown.get(name).element.remove();
            this.shown.delete(name);
        }
        if (focused && document.activeElement !== focused) focused.focus({ preventScroll: true });
        return true;
    }

    make(name, role) {
        const [aria] = ROLES[role] || ROLES.button;
        const element = document.createElement(aria === 'note' || aria === 'img' ? 'div' : 'button');
        element.dataset.name = name;
        element.tabIndex = -1; // the program's own order, which Tab moves through
        if (aria !== 'button') element.setAttribute('role', aria);
        if (name === 'message') element.setAttribute('role', 'status');
        if (element.tagName === 'BUTTON') element.addEventListener('click', () => this.tap(name));
        return element;
    }

    describe(element, [, role, label, value, dead, selected, , x0, y0, x1, y1], scale) {
        const [, state] = ROLES[role] || ROLES.button;
        const words = [label, value].filter(Boolean).join(', ');
        if (element.tagName === 'BUTTON' || role !== 'figure') element.setAttribute('aria-label', words || role);
        else element.textContent = words;
        element.toggleAttribute('aria-disabled', false);
        if (dead) element.setAttribute('aria-disabled', 'true');
        if (state) element.setAttribute(state, selected ? 'true' : 'false');
        const style = element.style;
        style.left = `${x0 * scale}px`;
        style.top = `${y0 * scale}px`;
        style.width = `${(x1 - x0) * scale}px`;
        style.height = `${(y1 - y0) * scale}px`;
    }
}
