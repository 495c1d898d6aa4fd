// What app/hosts/web_calls.h declares: each call goes to the page (Module.page, page.js).
mergeInto(LibraryManager.library, {
    railside_page_wake: function () { Module.page.wake(); },
    railside_page_ask: function (what) { Module.page.ask(what); },
    railside_page_give: function (path) { Module.page.give(UTF8ToString(path)); },
    railside_page_picture: function (hash, longest, ticket) {
        Module.page.picture(UTF8ToString(hash), longest, ticket);
    },
    railside_page_bring: function (hashes, pictures, ticket) {
        Module.page.bring(UTF8ToString(hashes).split('\n').filter(Boolean), pictures !== 0, ticket);
    },
    railside_page_brought_used: function (ticket) { Module.page.broughtUsed(ticket); },
    railside_page_line: function (line) { Module.page.store.addLine(UTF8ToString(line)); },
    railside_page_file: function (hash, bytes, size) {
        // A copy: the heap moves when it grows.
        Module.page.file(UTF8ToString(hash), HEAPU8.slice(bytes, bytes + size));
    },
    railside_page_camera: function (open) { Module.page.camera.set(open !== 0); },
    railside_page_shutter: function () { Module.page.shutter(); },
});
