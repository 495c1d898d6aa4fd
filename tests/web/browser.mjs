// A browser of its own for the tests of the page: Chromium with a profile on disk, fingers, a fake camera; it can be
// killed outright, as a tablet kills what it needs the memory of.
import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const FLAGS = ['--headless=new', '--no-sandbox', '--use-angle=swiftshader', '--enable-unsafe-swiftshader',
    '--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream', '--disable-background-networking',
    '--disable-component-update', '--disable-sync', '--no-first-run', '--no-default-browser-check',
    '--disable-domain-reliability', '--disable-features=OptimizationHints,MediaRouter', '--remote-debugging-port=0',
    '--disable-renderer-backgrounding', '--disable-background-timer-throttling', '--mute-audio'];

export const wait = (ms) => new Promise((resolve) => { setTimeout(resolve, ms); });

export async function until(what, test, seconds = 20) {
    const end = Date.now() + seconds * 1000 * Math.max(1, loadavg()[0] / cpus().length);
    for (;;) {
        const found = await test();
        if (found) return found;
        if (Date.now() > end) throw new Error(`waited ${seconds} s in vain: ${what}`);
        await wait(30);
    }
}

export class Browser {
    static running = new Set();

    static killAll() {
        for (const one of Browser.running) {
            try {
                process.kill(-one.pid, 'SIGKILL');
            } catch {
                // It has ended already.
            }
        }
        Browser.running.clear();
    }

    static tabs = [];

    static async pictureOfAll(folder, name) {
        for (const [i, tab] of Browser.tabs.entries())
            await Promise.race([tab.picture(folder, `${name}-${i}`), wait(5000)]).catch(() => {});
    }

    static async open(profile, { screen, camera = true } = {}) {
        mkdirSync(profile, { recursive: true });
        rmSync(join(profile, 'DevToolsActivePort'), { force: true });
        const flags = camera ? FLAGS : FLAGS.filter((flag) => !flag.startsWith('--use-fake-'));
        const child = spawn(process.env.RAILSIDE_CHROMIUM || '/usr/bin/chromium',
            [...flags, `--user-data-dir=${profile}`, 'about:blank'], { detached: true, stdio: 'ignore' });
        Browser.running.add(child);
        child.on('exit', () => Browser.running.delete(child));
        const port = join(profile, 'DevToolsActivePort');
        await until('the browser starts', () => existsSync(port) && readFileSync(port, 'utf8').includes('\n'), 60);
        const made = new Browser();
        made.child = child;
        made.ended = new Promise((resolve) => { child.on('exit', resolve); });
        made.browser = await chromium.connectOverCDP(`http://127.0.0.1:${readFileSync(port, 'utf8').split('\n')[0]}`);
        made.context = made.browser.contexts()[0];
        const page = made.context.pages()[0] || await made.context.newPage();
        made.tab = await Tab.of(made, page, screen);
        return made;
    }

    async newTab(screen) { return Tab.of(this, await this.context.newPage(), screen); }

    /// At once, with all its processes, as losing the power would end it for the disk's cache.
    async kill() {
        process.kill(-this.child.pid, 'SIGKILL');
        Browser.tabs = Browser.tabs.filter((tab) => tab.browser !== this);
        await this.ended;
        await this.browser.close().catch(() => {});
    }
}

export class Tab {
    static async of(browser, page, screen) {
        const tab = new Tab();
        Object.assign(tab, { browser, page, errors: [] });
        Browser.tabs.push(tab);
        page.on('pageerror', (error) => tab.errors.push(error.stack || error.message));
        page.on('console', (message) => { if (message.type() === 'error') tab.errors.push(message.text()); });
        tab.cdp = await browser.context.newCDPSession(page);
        await tab.resize(screen);
        return tab;
    }

    async resize({ width, height, density, touch = true }) {
        this.screen = { width, height, density, touch };
        await this.cdp.send('Emulation.setDeviceMetricsOverride', { width, height, deviceScaleFactor: density,
            mobile: touch, screenWidth: width, screenHeight: height,
            screenOrientation: width < height ? { type: 'portraitPrimary', angle: 0 } :
                { type: 'landscapePrimary', angle: 90 } });
        await this.cdp.send('Emulation.setTouchEmulationEnabled', { enabled: touch, maxTouchPoints: 5 });
    }

    async open(address) {
        await this.page.goto(address, { waitUntil: 'load' });
        await this.ready();
    }

    async ready() {
        await until('the first frame', () => this.page.evaluate(() => Boolean(window.railside)).catch(() => false), 60);
        await this.settle();
    }

    /// Nothing is drawn and nothing is written any more.
    async settle() {
        let before = -1;
        await until('the page comes to rest', async () => {
            const now = await this.page.evaluate(() => (window.railside
                ? [railside.frames(), railside.resting()] : [-2, false]));
            const rest = now[0] === before && now[1];
            before = now[0];
            return rest;
        });
    }

    async controls() {
        const list = await this.page.evaluate(() => railside.controls());
        return new Map(list.map(([name, role, label, value, dead, selected, focused, x0, y0, x1, y1]) =>
            [name, { name, role, label, value, dead, selected, focused, x0, y0, x1, y1 }]));
    }

    /// CSS coordinates of the middle of a control; the point in the browser's own measure.
    async place(name) {
        return until(`the control ${name}`, async () => {
            const control = (await this.controls()).get(name);
            if (!control) return null;
            const { left, top, scale } = await this.page.evaluate(() => {
                const canvas = document.getElementById('screen');
                const rect = canvas.getBoundingClientRect();
                return { left: rect.left, top: rect.top, scale: rect.width / canvas.width };
            });
            return { x: left + (control.x0 + control.x1) / 2 * scale, y: top + (control.y0 + control.y1) / 2 * scale };
        }, 30).catch(async (error) => {
            throw new Error(`${error.message}; there are: ${[...(await this.controls()).keys()].join(', ')}`);
        });
    }

    finger(type, points) {
        return this.cdp.send('Input.dispatchTouchEvent', { type, touchPoints: points });
    }

    async tapAt(x, y) {
        // One does not wait for the other: on a busy machine it would become a long press.
        await Promise.all([this.finger('touchStart', [{ x, y, id: 1 }]), this.finger('touchEnd', [])]);
    }

    async tap(name) {
        const { x, y } = await this.place(name);
        await this.tapAt(x, y);
        await this.settle();
    }

    async drag(from, to, steps = 8) {
        await this.finger('touchStart', [{ ...from, id: 1 }]);
        for (let i = 1; i <= steps; i++) {
            await this.finger('touchMove', [{ x: from.x + (to.x - from.x) * i / steps,
                y: from.y + (to.y - from.y) * i / steps, id: 1 }]);
            await wait(8);
        }
        await this.finger('touchEnd', []);
        await this.settle();
    }

    /// Drags the middle of the screen until the control is there.
    async reach(name) {
        for (let i = 0; i < 24 && !(await this.controls()).has(name); i++) {
            const x = this.screen.width * 0.2;
            await this.drag({ x, y: this.screen.height * 0.42 }, { x, y: this.screen.height * 0.22 });
        }
        await this.settle();
        return this.place(name);
    }

    async value(name) {
        const control = (await this.controls()).get(name);
        return control ? control.value || control.label : null;
    }

    async keyIn(text) {
        for (const key of text) await this.tap(`keypad/${key}`);
    }

    async picture(folder, name) {
        mkdirSync(folder, { recursive: true });
        const { data } = await this.cdp.send('Page.captureScreenshot', { format: 'png' });
        writeFileSync(join(folder, `${name}.png`), Buffer.from(data, 'base64'));
    }
}
