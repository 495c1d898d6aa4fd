#include "core/store/photo_out.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

namespace railside {

namespace {

using namespace std::string_view_literals;

unsigned byte_at(std::string_view bytes, std::size_t at) {
    return static_cast<unsigned char>(bytes[at]);
}

// ---- words about places -------------------------------------------------------------------------

/// Whether `text` names a place, or may do so out of sight.
bool tells_place(std::string_view text) {
    static constexpr std::array k_words = {
        "gps"sv,     "geo"sv,     "location"sv, "latitude"sv,        "longitude"sv, "altitude"sv,
        "city"sv,    "country"sv, "province"sv, "photoshop:state"sv, "landmark"sv,  "venue"sv,
        "address"sv, "xmpgimg"sv, "base64"sv,   "place"sv,
    };
    std::string plain;
    plain.reserve(text.size());
    for (const char letter : text) {
        if (letter == '\0') // UTF-16 or packed data: the words would not be found
            return true;
        plain += letter >= 'A' && letter <= 'Z' ? static_cast<char>(letter - 'A' + 'a') : letter;
    }
    return std::any_of(k_words.begin(), k_words.end(), [&](std::string_view word) {
        return plain.find(word) != std::string::npos;
    });
}

// ---- the TIFF structure of Exif -----------------------------------------------------------------

struct Range {
    std::size_t begin = 0;
    std::size_t end = 0;
};

bool meet(const Range& a, const Range& b) { return a.begin < b.end && b.begin < a.end; }

constexpr std::size_t k_entry_bytes = 12;
constexpr std::size_t k_header_bytes = 8;
constexpr std::size_t k_most_directories = 8; // cameras write five

constexpr unsigned k_orientation = 0x0112;
constexpr unsigned k_strip_offsets = 0x0111;
constexpr unsigned k_thumbnail = 0x0201;
constexpr unsigned k_thumbnail_bytes = 0x0202;
constexpr unsigned k_exif_directory = 0x8769;
constexpr unsigned k_gps_directory = 0x8825;
constexpr unsigned k_interoperability_directory = 0xA005;

/// Fields that are left out wherever they stand.
bool left_out(unsigned tag) {
    static constexpr std::array<unsigned, 16> k_tags = {
        k_gps_directory,
        0x014A,                                                  // further directories
        0x02BC,                                                  // XMP
        0x83BB,                                                  // IPTC
        0x8649,                                                  // Photoshop image resources
        0x830E,          0x8480, 0x8482, 0x87AF, 0x87B0, 0x87B1, // GeoTIFF
        0x927C,                                                  // maker's note
        0xC634,                                                  // maker's note of raw formats
        0xEA1C,                                                  // padding
        0x87BE,          0x85D8,                                 // projections
    };
    return std::find(k_tags.begin(), k_tags.end(), tag) != k_tags.end();
}

/// Bytes of one value; 0 for a type that TIFF 6.0 and Exif do not know.
std::size_t type_bytes(unsigned type) {
    static constexpr std::array<std::size_t, 14> k_bytes = {0, 1, 1, 2, 4, 8, 1,
                                                            1, 2, 4, 8, 4, 8, 4};
    return type < k_bytes.size() ? k_bytes[type] : 0;
}

std::optional<std::size_t> plain_thumbnail_end(std::string_view jpeg);

class Tiff {
  public:
    explicit Tiff(std::string_view bytes) : bytes_(bytes) {
        if (bytes_.size() >= k_header_bytes) {
            little_ = bytes_.substr(0, 2) == "II";
            sound_ = (little_ || bytes_.substr(0, 2) == "MM") && two(2) == 42U;
        }
    }

    /// Of the first directory, read as far as it can be.
    [[nodiscard]] std::optional<unsigned> orientation() const {
        const std::optional<std::size_t> at = sound_ ? four(4) : std::nullopt;
        const std::optional<unsigned> count = at ? two(*at) : std::nullopt;
        for (std::size_t i = 0; count && i < *count; ++i) {
            const std::size_t entry = *at + 2 + i * k_entry_bytes;
            const std::optional<unsigned> tag = two(entry);
            if (!tag)
                break;
            const std::optional<unsigned> value = two(entry + 8);
            if (*tag == k_orientation && two(entry + 2) == 3U &&
                four(entry + 4) == std::size_t{1} && value && *value >= 1 && *value <= 8)
                return value;
        }
        return std::nullopt;
    }

    /// The structure without what is left out, as long as before; nothing when it is broken.
    [[nodiscard]] std::optional<std::string> without_place() {
        const std::optional<std::size_t> first = sound_ ? four(4) : std::nullopt;
        if (!first || !take_directory(*first, Level::image))
            return std::nullopt;
        if (next_ != 0 && !take_second(next_))
            return std::nullopt;
        if (!agrees())
            return std::nullopt;
        std::string out(bytes_.size(), '\0');
        const auto copy = [&](const Range& range) {
            bytes_.copy(out.data() + range.begin, range.end - range.begin, range.begin);
        };
        copy({0, k_header_bytes});
        for (const Range& value : values_)
            copy(value);
        for (const Directory& directory : directories_) {
            std::size_t to = directory.at;
            put_two(out, to, static_cast<unsigned>(directory.entries.size()));
            to += 2;
            for (const std::size_t entry : directory.entries) {
                bytes_.copy(out.data() + to, k_entry_bytes, entry);
                to += k_entry_bytes;
            }
            put_four(out, to, directory.next);
        }
        return out;
    }

  private:
    enum class Level {
        image, // IFD0 and IFD1: may point to the others
        below, // Exif, interoperability
    };
    struct Directory {
        std::size_t at = 0;
        Range whole;                      // as it was
        std::vector<std::size_t> entries; // where the kept ones stood
        std::size_t next = 0;
    };

    [[nodiscard]] std::optional<unsigned> two(std::size_t at) const {
        if (at > bytes_.size() || bytes_.size() - at < 2)
            return std::nullopt;
        const unsigned a = byte_at(bytes_, at);
        const unsigned b = byte_at(bytes_, at + 1);
        return little_ ? a | b << 8U : a << 8U | b;
    }
    [[nodiscard]] std::optional<std::size_t> four(std::size_t at) const {
        const std::optional<unsigned> a = two(at);
        const std::optional<unsigned> b = two(at + 2);
        if (!a || !b)
            return std::nullopt;
        return little_ ? std::size_t{*a} | std::size_t{*b} << 16U
                       : std::size_t{*a} << 16U | std::size_t{*b};
    }
    void put_two(std::string& out, std::size_t at, unsigned value) const {
        out[at] = static_cast<char>(little_ ? value & 0xFFU : value >> 8U);
        out[at + 1] = static_cast<char>(little_ ? value >> 8U : value & 0xFFU);
    }
    void put_four(std::string& out, std::size_t at, std::size_t value) const {
        const auto low = static_cast<unsigned>(value & 0xFFFFU);
        const auto high = static_cast<unsigned>(value >> 16U & 0xFFFFU);
        put_two(out, at, little_ ? low : high);
        put_two(out, at + 2, little_ ? high : low);
    }

    /// Where an entry's value lies outside of the entry. Empty when it lies inside; nothing when it
    /// reaches beyond the end.
    [[nodiscard]] std::optional<Range> value_of(std::size_t entry, std::size_t one) const {
        const std::size_t count = *four(entry + 4);
        if (one == 0 || count > bytes_.size() / one)
            return one == 0 || count == 0 ? std::optional(Range{}) : std::nullopt;
        const std::size_t size = one * count;
        if (size <= 4)
            return Range{};
        const std::size_t at = *four(entry + 8);
        if (at > bytes_.size() || size > bytes_.size() - at)
            return std::nullopt;
        return Range{at, at + size};
    }

    /// The extent of a directory that is not kept, as far as it can be read.
    void discard(std::size_t at) {
        const std::optional<unsigned> count = two(at);
        if (!count)
            return;
        for (std::size_t i = 0; i < *count; ++i) {
            const std::size_t entry = at + 2 + i * k_entry_bytes;
            if (!four(entry + 8))
                return;
            gone_.push_back({entry, entry + k_entry_bytes});
            const std::optional<Range> value = value_of(entry, type_bytes(*two(entry + 2)));
            if (value && value->end > value->begin)
                gone_.push_back(*value);
        }
    }

    [[nodiscard]] bool take_directory(std::size_t at, Level level) {
        const std::optional<unsigned> count = two(at);
        if (!count || at < k_header_bytes || directories_.size() == k_most_directories)
            return false;
        Directory directory;
        directory.at = at;
        const std::size_t end = at + 2 + *count * k_entry_bytes;
        if (end > bytes_.size() || bytes_.size() - end < 4)
            return false;
        directory.whole = {at, end + 4};
        for (const Directory& other : directories_)
            if (meet(other.whole, directory.whole))
                return false; // round in a circle
        std::vector<std::size_t> below;
        std::optional<std::size_t> thumbnail;
        std::optional<std::size_t> thumbnail_bytes;
        bool strips = false;
        directory.entries.reserve(*count);
        for (std::size_t i = 0; i < *count; ++i) {
            const std::size_t entry = at + 2 + i * k_entry_bytes;
            const unsigned tag = *two(entry);
            const std::size_t one = type_bytes(*two(entry + 2));
            const std::optional<Range> value = value_of(entry, one);
            if (tag == k_gps_directory) {
                if (++gps_directories_ > k_most_directories)
                    return false;
                discard(*four(entry + 8));
            }
            if (left_out(tag) || one == 0) {
                if (value && value->end > value->begin)
                    gone_.push_back(*value);
                continue;
            }
            if (!value)
                return false;
            strips = strips || tag == k_strip_offsets;
            if (tag == k_exif_directory || tag == k_interoperability_directory) {
                if (level == Level::image || tag == k_interoperability_directory)
                    below.push_back(*four(entry + 8));
                else
                    return false; // an Exif directory in itself
            }
            if (tag == k_thumbnail)
                thumbnail = *four(entry + 8);
            if (tag == k_thumbnail_bytes)
                thumbnail_bytes = *four(entry + 8);
            directory.entries.push_back(entry);
        }
        directory.next = 0;
        next_ = *four(end);
        keep_thumbnail(directory, thumbnail, thumbnail_bytes);
        // Only now: an entry of a thumbnail that goes takes its value along.
        for (const std::size_t entry : directory.entries) {
            const std::optional<Range> value = value_of(entry, type_bytes(*two(entry + 2)));
            if (value && value->end > value->begin)
                values_.push_back(*value);
        }
        holds_strips_ = strips;
        const std::size_t mine = directories_.size();
        const std::size_t next = next_;
        directories_.push_back(std::move(directory));
        for (const std::size_t other : below)
            if (!take_directory(other, Level::below))
                return false;
        next_ = next;
        last_ = mine;
        return true;
    }

    /// The second directory describes the thumbnail; one whose pixels lie in strips goes, as strips
    /// are not followed.
    [[nodiscard]] bool take_second(std::size_t at) {
        const std::size_t first = last_;
        const std::size_t values = values_.size();
        const std::size_t before = directories_.size();
        if (!take_directory(at, Level::image))
            return false;
        if (holds_strips_) {
            values_.resize(values);
            directories_.resize(before);
        } else {
            directories_[first].next = at;
        }
        return true;
    }

    /// The thumbnail stays when it is a JPEG that holds nothing but a picture; else its two entries
    /// go.
    void keep_thumbnail(Directory& directory, std::optional<std::size_t> at,
                        std::optional<std::size_t> size) {
        if (!at && !size)
            return;
        if (at && size && *at <= bytes_.size() && *size <= bytes_.size() - *at) {
            if (const std::optional<std::size_t> end =
                    plain_thumbnail_end(bytes_.substr(*at, *size))) {
                values_.push_back({*at, *at + *end});
                return;
            }
            gone_.push_back({*at, *at + *size});
        }
        std::erase_if(directory.entries, [&](std::size_t entry) {
            const unsigned tag = *two(entry);
            if (tag != k_thumbnail && tag != k_thumbnail_bytes)
                return false;
            const std::optional<Range> value = value_of(entry, type_bytes(*two(entry + 2)));
            if (value && value->end > value->begin)
                gone_.push_back(*value);
            return true;
        });
    }

    /// Whether nothing kept lies in the header, in a directory, or in what goes.
    [[nodiscard]] bool agrees() const {
        std::vector<Range> apart = gone_;
        apart.push_back({0, k_header_bytes});
        for (const Directory& directory : directories_) {
            for (const Range& gone : gone_)
                if (meet(directory.whole, gone))
                    return false;
            apart.push_back(directory.whole);
        }
        std::sort(apart.begin(), apart.end(),
                  [](const Range& a, const Range& b) { return a.begin < b.begin; });
        // Merged, so that one look per value is enough.
        std::vector<Range> merged;
        merged.reserve(apart.size());
        for (const Range& range : apart) {
            if (!merged.empty() && range.begin <= merged.back().end)
                merged.back().end = std::max(merged.back().end, range.end);
            else
                merged.push_back(range);
        }
        return std::none_of(values_.begin(), values_.end(), [&](const Range& value) {
            const auto after =
                std::upper_bound(merged.begin(), merged.end(), value.begin,
                                 [](std::size_t at, const Range& range) { return at < range.end; });
            return after != merged.end() && meet(*after, value);
        });
    }

    std::string_view bytes_;
    bool little_ = false;
    bool sound_ = false;
    std::vector<Directory> directories_;
    std::vector<Range> values_; // kept
    std::vector<Range> gone_;   // of fields left out
    std::size_t next_ = 0;      // of the directory taken last
    std::size_t last_ = 0;      // its place in directories_
    std::size_t gps_directories_ = 0;
    bool holds_strips_ = false;
};

/// A structure with nothing but the orientation (TIFF 6.0, little-endian).
std::string orientation_alone(unsigned orientation) {
    std::string text("II\x2A\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0", 18);
    text += static_cast<char>(orientation);
    text.append(7, '\0');
    return text;
}

/// The structure to write in place of `tiff`; nothing when it goes without a trace.
std::optional<std::string> exif_out(std::string_view tiff) {
    Tiff structure(tiff);
    if (std::optional<std::string> kept = structure.without_place())
        return kept;
    if (const std::optional<unsigned> orientation = structure.orientation())
        return orientation_alone(*orientation);
    return std::nullopt;
}

// ---- JPEG ---------------------------------------------------------------------------------------

constexpr unsigned k_start = 0xD8;
constexpr unsigned k_end = 0xD9;
constexpr unsigned k_scan = 0xDA;
constexpr unsigned k_comment = 0xFE;

bool stands_alone(unsigned marker) { return marker == 0x01 || (marker >= 0xD0 && marker <= 0xD7); }

struct Segment {
    unsigned marker = 0;
    std::string_view body; // without marker and length
    std::string_view data; // of a scan: what is coded, up to the next marker
};

/// Everything up to the end marker, in order. Nothing when the structure is broken or the end is
/// missing. `end` is where the end marker ends.
std::optional<std::vector<Segment>> jpeg_segments(std::string_view bytes, std::size_t& end) {
    if (bytes.size() < 4 || byte_at(bytes, 0) != 0xFF || byte_at(bytes, 1) != k_start)
        return std::nullopt;
    std::vector<Segment> segments;
    bool scanned = false;
    std::size_t at = 2;
    while (bytes.size() - at >= 2) {
        if (byte_at(bytes, at) != 0xFF)
            return std::nullopt;
        const unsigned marker = byte_at(bytes, at + 1);
        if (marker == 0xFF) { // padding
            ++at;
            continue;
        }
        if (marker == k_end) {
            end = at + 2;
            return scanned ? std::optional(std::move(segments)) : std::nullopt;
        }
        if (stands_alone(marker)) {
            at += 2;
            continue;
        }
        // Below SOF0 and from F0 on (JPEG-LS and others) nothing is known.
        if (marker == k_start || marker < 0xC0 || (marker >= 0xF0 && marker != k_comment) ||
            bytes.size() - at < 4)
            return std::nullopt;
        const std::size_t length = byte_at(bytes, at + 2) << 8U | byte_at(bytes, at + 3);
        if (length < 2 || bytes.size() - at - 2 < length)
            return std::nullopt;
        Segment segment{marker, bytes.substr(at + 4, length - 2), {}};
        at += 2 + length;
        if (marker == k_scan) {
            scanned = true;
            std::size_t to = at;
            while (to + 1 < bytes.size()) {
                const unsigned after = byte_at(bytes, to + 1);
                if (byte_at(bytes, to) == 0xFF && after != 0 && after != 0xFF &&
                    !stands_alone(after))
                    break;
                ++to;
            }
            if (to + 1 >= bytes.size())
                return std::nullopt;
            segment.data = bytes.substr(at, to - at);
            at = to;
        }
        segments.push_back(segment);
    }
    return std::nullopt;
}

/// Where a thumbnail's end marker ends, when it is a JPEG without notes of any kind.
std::optional<std::size_t> plain_thumbnail_end(std::string_view jpeg) {
    std::size_t end = 0;
    const std::optional<std::vector<Segment>> segments = jpeg_segments(jpeg, end);
    if (!segments)
        return std::nullopt;
    for (const Segment& segment : *segments) {
        const bool application = segment.marker >= 0xE0 && segment.marker <= 0xEF;
        const bool plain = (segment.marker == 0xE0 && segment.body.starts_with("JFIF\0"sv)) ||
                           (segment.marker == 0xEE && segment.body.starts_with("Adobe"));
        if ((application && !plain) || segment.marker == k_comment)
            return std::nullopt;
    }
    return end;
}

/// Whether a Photoshop segment is whole and tells no place (Photoshop file formats, image resource
/// blocks; IPTC-IIM record 2).
bool photoshop_stays(std::string_view body) {
    constexpr std::string_view k_name = "Photoshop 3.0\0"sv;
    constexpr std::array<unsigned, 5> k_places = {0x0404, 0x0422, 0x0423, 0x0424, 0x0BB8};
    std::size_t at = k_name.size();
    while (at < body.size()) {
        if (body.size() - at < 12 || body.substr(at, 4) != "8BIM")
            return false;
        const unsigned id = byte_at(body, at + 4) << 8U | byte_at(body, at + 5);
        std::size_t name = std::size_t{1} + byte_at(body, at + 6);
        name += name % 2;
        at += 6;
        if (body.size() - at < name + 4)
            return false;
        at += name;
        std::size_t size = 0;
        for (std::size_t i = 0; i < 4; ++i)
            size = size << 8U | byte_at(body, at + i);
        at += 4;
        if (size > body.size() - at)
            return false;
        const std::string_view resource = body.substr(at, size);
        at = std::min(body.size(), at + size + size % 2);
        if (id != k_places[0]) {
            if (std::find(k_places.begin(), k_places.end(), id) != k_places.end())
                return false; // Exif and XMP once more
            continue;
        }
        for (std::size_t field = 0; field < resource.size();) {
            if (resource.size() - field < 5 || byte_at(resource, field) != 0x1C)
                return false;
            const unsigned record = byte_at(resource, field + 1);
            const unsigned set = byte_at(resource, field + 2);
            const std::size_t length =
                byte_at(resource, field + 3) << 8U | byte_at(resource, field + 4);
            const bool place = set == 26 || set == 27 || (set >= 90 && set <= 101);
            // A length of 32768 and more is the length of a length.
            if ((record == 2 && place) || record > 2 || length > 0x7FFF ||
                length > resource.size() - field - 5)
                return false;
            field += 5 + length;
        }
    }
    return true;
}

/// What is to be done with the notes of one picture.
struct Notes {
    bool xmp = true;
    bool photoshop = true;
};

constexpr std::string_view k_exif = "Exif\0"sv; // and one byte of padding
constexpr std::string_view k_xmp = "http://ns.adobe.com/xap/1.0/\0"sv;
constexpr std::string_view k_photoshop = "Photoshop 3.0\0"sv;

bool segment_stays(const Segment& segment, const Notes& notes) {
    const std::string_view body = segment.body;
    switch (segment.marker) {
    case 0xE0:
        return body.starts_with("JFIF\0"sv);
    case 0xE1:
        return body.starts_with(k_xmp) && notes.xmp;
    case 0xE2:
        return body.starts_with("ICC_PROFILE\0"sv);
    case 0xED:
        return body.starts_with(k_photoshop) && notes.photoshop;
    case 0xEE:
        return body.starts_with("Adobe");
    case k_comment:
        return !tells_place(body);
    default:
        return segment.marker < 0xE0;
    }
}

std::optional<std::string> strip_jpeg(std::string_view bytes) {
    std::size_t end = 0;
    const std::optional<std::vector<Segment>> segments = jpeg_segments(bytes, end);
    if (!segments)
        return std::nullopt;
    Notes notes;
    for (const Segment& segment : *segments) {
        if (segment.marker == 0xE1 && segment.body.starts_with(k_xmp) &&
            tells_place(segment.body.substr(k_xmp.size())))
            notes.xmp = false;
        if (segment.marker == 0xED && segment.body.starts_with(k_photoshop) &&
            !photoshop_stays(segment.body))
            notes.photoshop = false;
    }
    std::string out;
    out.reserve(bytes.size());
    const auto put = [&](unsigned marker, std::string_view body) {
        const std::size_t length = body.size() + 2;
        out += '\xFF';
        out += static_cast<char>(marker);
        out += static_cast<char>(length >> 8U);
        out += static_cast<char>(length & 0xFFU);
        out += body;
    };
    out += "\xFF\xD8";
    bool first = true;
    for (const Segment& segment : *segments) {
        if (segment.marker == 0xE1 && segment.body.starts_with(k_exif)) {
            constexpr std::size_t k_name_bytes = 6;
            const std::optional<std::string> tiff =
                exif_out(segment.body.substr(std::min(k_name_bytes, segment.body.size())));
            // A second one has no meaning to readers and is not worth a new orientation.
            if (tiff && first)
                put(0xE1, std::string(k_exif) + '\0' + *tiff);
            first = false;
        } else if (segment_stays(segment, notes)) {
            put(segment.marker, segment.body);
            out += segment.data;
        }
    }
    out += "\xFF\xD9";
    return out;
}

// ---- PNG ----------------------------------------------------------------------------------------

constexpr std::string_view k_png = "\x89PNG\r\n\x1A\n"sv;

/// PNG, third edition, annex D: the CRC of ISO 3309.
std::uint32_t crc(std::string_view bytes) {
    static constexpr std::array<std::uint32_t, 256> k_table = [] {
        std::array<std::uint32_t, 256> table = {};
        for (std::uint32_t n = 0; n < table.size(); ++n) {
            std::uint32_t c = n;
            for (int k = 0; k < 8; ++k)
                c = (c & 1U) != 0 ? 0xEDB88320U ^ c >> 1U : c >> 1U;
            table[n] = c;
        }
        return table;
    }();
    std::uint32_t c = 0xFFFFFFFFU;
    for (const char byte : bytes)
        c = k_table[(c ^ static_cast<unsigned char>(byte)) & 0xFFU] ^ c >> 8U;
    return ~c;
}

void put_four(std::string& out, std::uint32_t value) {
    for (int shift = 24; shift >= 0; shift -= 8)
        out += static_cast<char>(value >> shift & 0xFFU);
}

void put_chunk(std::string& out, std::string_view name, std::string_view body) {
    put_four(out, static_cast<std::uint32_t>(body.size()));
    const std::size_t at = out.size();
    out += name;
    out += body;
    put_four(out, crc(std::string_view(out).substr(at)));
}

/// A chunk of text: keyword, then the text as it is. Packed or unreadable text does not stay.
bool text_stays(std::string_view name, std::string_view body) {
    const std::size_t keyword = body.find('\0');
    if (keyword == std::string_view::npos || tells_place(body.substr(0, keyword)) ||
        body.starts_with("Raw profile"))
        return false;
    std::string_view text = body.substr(keyword + 1);
    if (name == "iTXt") {
        if (text.size() < 2 || text[0] != '\0') // packed
            return false;
        text.remove_prefix(2);
        for (int field = 0; field < 2; ++field) { // language, keyword in it
            const std::size_t end = text.find('\0');
            if (end == std::string_view::npos || tells_place(text.substr(0, end)))
                return false;
            text.remove_prefix(end + 1);
        }
    }
    return !tells_place(text);
}

std::optional<std::string> strip_png(std::string_view bytes) {
    static constexpr std::array k_stays = {
        "IHDR"sv, "PLTE"sv, "IDAT"sv, "IEND"sv, "tRNS"sv, "gAMA"sv, "cHRM"sv,
        "sRGB"sv, "iCCP"sv, "cICP"sv, "mDCV"sv, "cLLI"sv, "sBIT"sv, "pHYs"sv,
        "bKGD"sv, "hIST"sv, "sPLT"sv, "tIME"sv, "acTL"sv, "fcTL"sv, "fdAT"sv,
    };
    constexpr std::size_t k_frame = 12; // length, name, CRC
    std::string out(k_png);
    out.reserve(bytes.size());
    std::size_t at = k_png.size();
    while (bytes.size() - at >= k_frame) {
        std::size_t length = 0;
        std::uint32_t checksum = 0;
        for (std::size_t i = 0; i < 4; ++i)
            length = length << 8U | byte_at(bytes, at + i);
        if (length > bytes.size() - at - k_frame)
            return std::nullopt;
        for (std::size_t i = 0; i < 4; ++i)
            checksum = checksum << 8U | byte_at(bytes, at + 8 + length + i);
        const std::string_view whole = bytes.substr(at, length + k_frame);
        const std::string_view name = whole.substr(4, 4);
        const std::string_view body = whole.substr(8, length);
        if (crc(whole.substr(4, length + 4)) != checksum || (at == k_png.size() && name != "IHDR"))
            return std::nullopt;
        at += whole.size();
        if (name == "eXIf") {
            if (const std::optional<std::string> tiff = exif_out(body))
                put_chunk(out, name, *tiff);
        } else if (name == "tEXt" || name == "iTXt") {
            if (text_stays(name, body))
                out += whole;
        } else if (std::find(k_stays.begin(), k_stays.end(), name) != k_stays.end()) {
            out += whole;
        } else if (name[0] >= 'A' && name[0] <= 'Z') {
            return std::nullopt; // needed to show the picture, and unknown
        }
        if (name == "IEND")
            return out;
    }
    return std::nullopt;
}

} // namespace

Result<std::string> strip_location(std::string_view bytes, std::string_view name) {
    const bool png = bytes.starts_with(k_png);
    if (!png && !bytes.starts_with("\xFF\xD8\xFF"sv))
        return Error{ErrorCode::damaged, std::string(name),
                     worded("{} is neither JPEG nor PNG, so the place where it was taken "
                            "cannot be left out, and it is not given away.",
                            name)};
    std::optional<std::string> out = png ? strip_png(bytes) : strip_jpeg(bytes);
    if (!out)
        return Error{ErrorCode::damaged, std::string(name),
                     worded("{} is damaged or cut short, so the place where it was taken "
                            "cannot be left out for certain, and it is not given away.",
                            name)};
    return *std::move(out);
}

} // namespace railside
