// Keeps one version of Railside, whole, for when there is no network.
//
// A version is a set of files and has a cache of its own, named by what is in them. It is fetched as a whole or not at
// all; pages are answered from it alone, so that no file ever meets one of another version. A new version waits until
// no page uses the old one, or until the page says that it may take over.
const VERSION = 'railside-@VERSION@';
const FILES = [@FILES@];

self.addEventListener('install', (event) => {
    event.waitUntil(caches.open(VERSION).then((cache) =>
        cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' })))));
});

self.addEventListener('activate', (event) => {
    event.waitUntil(caches.keys().then((names) => Promise.all(
        names.filter((name) => name.startsWith('railside-') && name !== VERSION).map((name) => caches.delete(name)))));
});

self.addEventListener('message', (event) => {
    if (event.data === 'take over') self.skipWaiting();
});

self.addEventListener('fetch', (event) => {
    const { request } = event;
    if (request.method !== 'GET' || new URL(request.url).origin !== self.location.origin) return;
    event.respondWith(caches.open(VERSION).then(async (cache) => {
        const kept = await cache.match(request.mode === 'navigate' ? './' : request, { ignoreSearch: true });
        return kept || fetch(request);
    }));
});
