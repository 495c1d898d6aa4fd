#include "core/handover/font.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace railside {

namespace {

using Bytes = std::span<const unsigned char>;

/// Nought past the end.
unsigned u16(Bytes bytes, std::size_t at) {
    return at + 2 <= bytes.size() ? unsigned{bytes[at]} << 8U | bytes[at + 1] : 0U;
}
int i16(Bytes bytes, std::size_t at) { return static_cast<std::int16_t>(u16(bytes, at)); }
std::uint32_t u32(Bytes bytes, std::size_t at) {
    return std::uint32_t{u16(bytes, at)} << 16U | u16(bytes, at + 2);
}

Bytes part(Bytes bytes, std::size_t at, std::size_t length) {
    return at <= bytes.size() && length <= bytes.size() - at ? bytes.subspan(at, length) : Bytes();
}

void put16(std::string& to, unsigned value) {
    to += static_cast<char>(value >> 8U & 0xFFU);
    to += static_cast<char>(value & 0xFFU);
}
void put32(std::string& to, std::uint32_t value) {
    put16(to, value >> 16U);
    put16(to, value & 0xFFFFU);
}

/// Format 4: segments of the first plane.
void read_segments(Bytes map, std::map<char32_t, unsigned>& to) {
    const std::size_t segments = u16(map, 6) / 2;
    for (std::size_t s = 0; s < segments; ++s) {
        const unsigned end = u16(map, 14 + 2 * s);
        const unsigned start = u16(map, 16 + 2 * (segments + s));
        const unsigned delta = u16(map, 16 + 2 * (2 * segments + s));
        const std::size_t range_at = 16 + 2 * (3 * segments + s);
        const unsigned range = u16(map, range_at);
        for (unsigned c = start; c <= end && c < 0xFFFF; ++c) {
            unsigned glyph = c;
            if (range != 0) {
                glyph = u16(map, range_at + range + std::size_t{2} * (c - start));
                if (glyph == 0)
                    continue;
            }
            glyph = (glyph + delta) & 0xFFFFU;
            if (glyph != 0)
                to.emplace(c, glyph);
        }
    }
}

/// Format 12: groups of all planes.
void read_groups(Bytes map, std::map<char32_t, unsigned>& to) {
    const std::size_t groups = std::min<std::size_t>(u32(map, 12), map.size() / 12);
    for (std::size_t g = 0; g < groups; ++g) {
        const std::uint32_t start = u32(map, 16 + 12 * g);
        const std::uint32_t end = std::min<std::uint32_t>(u32(map, 20 + 12 * g), 0x10FFFF);
        const std::uint32_t glyph = u32(map, 24 + 12 * g);
        for (std::uint32_t c = start; c <= end && c - start <= 0xFFFF; ++c)
            if (glyph + (c - start) != 0)
                to.emplace(c, glyph + (c - start));
    }
}

std::uint32_t checksum(std::string_view bytes) {
    std::uint32_t sum = 0;
    for (std::size_t i = 0; i < bytes.size(); ++i)
        sum += std::uint32_t{static_cast<unsigned char>(bytes[i])} << (24 - 8 * (i % 4));
    return sum;
}

} // namespace

FontFace::Bytes FontFace::table(std::string_view tag) const {
    const auto it = tables_.find(tag);
    return it == tables_.end() ? Bytes() : it->second;
}

Result<FontFace> FontFace::read(std::span<const unsigned char> bytes, std::string_view name) {
    const auto damaged = [&](std::string_view why) {
        return Error{ErrorCode::damaged, std::string(name), worded("The font {} {}.", name, why)};
    };
    FontFace face;
    face.name_ = name;
    face.bytes_ = bytes;
    const std::uint32_t kind = u32(bytes, 0);
    if (kind != 0x00010000 && kind != 0x4F54544F && kind != 0x74727565)
        return damaged("is not a TrueType or OpenType file of one face");
    const unsigned tables = u16(bytes, 4);
    for (unsigned i = 0; i < tables; ++i) {
        const Bytes line = part(bytes, 12 + std::size_t{16} * i, 16);
        if (line.empty())
            return damaged("is cut short");
        const Bytes held = part(bytes, u32(line, 8), u32(line, 12));
        const std::string tag(line.begin(), line.begin() + 4);
        if (held.empty() && u32(line, 12) != 0)
            return damaged(worded("is cut short in its table \"{}\"", tag));
        face.tables_[tag] = held;
    }
    const Bytes head = face.table("head");
    const Bytes hhea = face.table("hhea");
    const Bytes maxp = face.table("maxp");
    const Bytes cmap = face.table("cmap");
    if (head.size() < 54 || hhea.size() < 36 || maxp.size() < 6 || cmap.size() < 4)
        return damaged("lacks one of the tables head, hhea, maxp, cmap");
    const unsigned per_em = u16(head, 18);
    if (per_em < 16 || per_em > 16384)
        return damaged("has no sensible size of its unit");
    face.unit_ = 1000.0 / per_em;
    for (std::size_t i = 0; i < 4; ++i)
        face.box_[i] = i16(head, 36 + 2 * i) * face.unit_;
    face.long_places_ = u16(head, 50) != 0;
    face.ascent_ = i16(hhea, 4) * face.unit_;
    face.descent_ = i16(hhea, 6) * face.unit_;
    face.metrics_ = u16(hhea, 34);
    face.count_ = u16(maxp, 4);
    if (face.metrics_ == 0 || face.count_ == 0 ||
        face.table("hmtx").size() < std::size_t{4} * face.metrics_)
        return damaged("has no widths");
    face.is_cff_ = !face.table("CFF ").empty();
    if (!face.is_cff_ && (face.table("glyf").empty() || face.table("loca").empty()))
        return damaged("has no outlines");
    const unsigned maps = u16(cmap, 2);
    for (unsigned i = 0; i < maps; ++i) {
        const unsigned platform = u16(cmap, 4 + std::size_t{8} * i);
        const std::uint32_t at = u32(cmap, 8 + std::size_t{8} * i);
        if ((platform != 0 && platform != 3) || at >= cmap.size())
            continue;
        const Bytes map = cmap.subspan(at);
        if (u16(map, 0) == 12)
            read_groups(map, face.glyphs_);
        else if (u16(map, 0) == 4)
            read_segments(map, face.glyphs_);
    }
    std::erase_if(face.glyphs_, [&](const auto& one) { return one.second >= face.count_; });
    if (face.glyphs_.empty())
        return damaged("has no map of Unicode characters");
    return face;
}

unsigned FontFace::glyph(char32_t character) const {
    const auto it = glyphs_.find(character);
    return it == glyphs_.end() ? 0 : it->second;
}

double FontFace::advance(unsigned glyph) const {
    const unsigned with_width = std::min(glyph, metrics_ - 1);
    return u16(table("hmtx"), std::size_t{4} * with_width) * unit_;
}

FontFace::Bytes FontFace::outline_of(unsigned glyph) const {
    const Bytes places = table("loca");
    const std::size_t at = long_places_ ? u32(places, std::size_t{4} * glyph)
                                        : std::size_t{2} * u16(places, std::size_t{2} * glyph);
    const std::size_t end = long_places_
                                ? u32(places, std::size_t{4} * (glyph + 1))
                                : std::size_t{2} * u16(places, std::size_t{2} * (glyph + 1));
    return end > at ? part(table("glyf"), at, end - at) : Bytes();
}

std::string FontFace::program(const std::set<unsigned>& glyphs) const {
    if (is_cff_) {
        const Bytes cff = table("CFF ");
        return {cff.begin(), cff.end()};
    }
    // What the glyphs are made of belongs to them.
    std::set<unsigned> used = {0};
    std::vector<unsigned> next(glyphs.begin(), glyphs.end());
    while (!next.empty()) {
        const unsigned glyph = next.back();
        next.pop_back();
        if (glyph >= count_ || (glyph != 0 && !used.insert(glyph).second))
            continue;
        const Bytes outline = outline_of(glyph);
        if (outline.size() < 12 || i16(outline, 0) >= 0)
            continue;
        for (std::size_t at = 10; at + 4 <= outline.size();) {
            const unsigned flags = u16(outline, at);
            next.push_back(u16(outline, at + 2));
            at += 4 + ((flags & 1U) != 0 ? 4 : 2);
            at += (flags & 0x08U) != 0   ? 2
                  : (flags & 0x40U) != 0 ? 4
                  : (flags & 0x80U) != 0 ? 8
                                         : 0;
            if ((flags & 0x20U) == 0)
                break;
        }
    }
    std::string outlines;
    std::string places;
    for (unsigned glyph = 0; glyph < count_; ++glyph) {
        put32(places, static_cast<std::uint32_t>(outlines.size()));
        if (!used.contains(glyph))
            continue;
        const Bytes outline = outline_of(glyph);
        outlines.append(outline.begin(), outline.end());
        outlines.resize((outlines.size() + 3) / 4 * 4, '\0');
    }
    put32(places, static_cast<std::uint32_t>(outlines.size()));

    std::map<std::string, std::string> out;
    for (const char* tag : {"cvt ", "fpgm", "head", "hhea", "hmtx", "maxp", "prep"})
        if (const Bytes held = table(tag); !held.empty())
            out[tag] = std::string(held.begin(), held.end());
    out["head"].replace(50, 2, std::string("\0\1", 2)); // loca in four bytes
    out["glyf"] = std::move(outlines);
    out["loca"] = std::move(places);
    const auto count = static_cast<unsigned>(out.size());
    unsigned power = 1;
    unsigned exponent = 0;
    while (power * 2 <= count) {
        power *= 2;
        ++exponent;
    }
    std::string file;
    put32(file, 0x00010000);
    put16(file, count);
    put16(file, power * 16);
    put16(file, exponent);
    put16(file, (count - power) * 16);
    std::size_t at = 12 + std::size_t{16} * count;
    for (auto& [tag, held] : out) {
        file += tag;
        put32(file, checksum(held));
        put32(file, static_cast<std::uint32_t>(at));
        put32(file, static_cast<std::uint32_t>(held.size()));
        held.resize((held.size() + 3) / 4 * 4, '\0');
        at += held.size();
    }
    for (const auto& one : out)
        file += one.second;
    return file;
}

} // namespace railside
