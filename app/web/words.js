// What the page itself says. English stands where it is said, in said('...'); where the program speaks by a catalogue
// (core/words), so does the page.

let find = (english) => english;

/// `look`: the program's words for an English text.
export function speakBy(look) { find = look; }

/// These words with the values in their {} places, which may be numbered.
export function said(english, ...values) {
    let next = 0;
    return find(english).replace(/\{(\d*)\}/g, (place, number) => String(values[number === '' ? next++ : Number(number)]));
}
