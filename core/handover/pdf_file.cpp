#include "core/handover/pdf_file.h"

#include "core/handover/unicode.h"

#include <fmt/format.h>

#ifdef RAILSIDE_ZLIB
#include <zlib.h>
#endif

namespace railside {

int PdfFile::reserve() {
    places_.push_back(0);
    return static_cast<int>(places_.size());
}

void PdfFile::put(std::string_view bytes) {
    if (!state_.ok())
        return;
    at_ += bytes.size();
    state_ = sink_(bytes);
}

void PdfFile::begin(int number) {
    if (at_ == 0)
        put("%PDF-1.7\n%\xE2\xE3\xCF\xD3\n"); // the second line says that bytes above 127 follow
    places_[static_cast<std::size_t>(number) - 1] = at_;
    put(fmt::format("{} 0 obj\n", number));
}

void PdfFile::object(int number, std::string_view body) {
    begin(number);
    put(body);
    put("\nendobj\n");
}

int PdfFile::object(std::string_view body) {
    const int number = reserve();
    object(number, body);
    return number;
}

int PdfFile::stream(std::string_view dictionary, std::string_view bytes, Packing packing) {
    std::string packed;
    std::string_view filter;
#ifdef RAILSIDE_ZLIB
    if (packing == Packing::pack) {
        uLongf size = compressBound(static_cast<uLong>(bytes.size()));
        packed.resize(size);
        if (compress2(reinterpret_cast<Bytef*>(packed.data()), &size,
                      reinterpret_cast<const Bytef*>(bytes.data()),
                      static_cast<uLong>(bytes.size()), Z_DEFAULT_COMPRESSION) == Z_OK) {
            packed.resize(size);
            bytes = packed;
            filter = " /Filter /FlateDecode";
        }
    }
#else
    static_cast<void>(packing);
#endif
    const int number = reserve();
    begin(number);
    put(fmt::format("<< {}{} /Length {} >>\nstream\n", dictionary, filter, bytes.size()));
    put(bytes);
    put("\nendstream\nendobj\n");
    return number;
}

void PdfFile::finish(int catalog, int info) {
    const std::uint64_t table = at_;
    put(fmt::format("xref\n0 {}\n0000000000 65535 f \n", places_.size() + 1));
    for (const std::uint64_t place : places_)
        put(fmt::format("{:010} 00000 n \n", place));
    put(fmt::format("trailer\n<< /Size {} /Root {} 0 R", places_.size() + 1, catalog));
    if (info != 0)
        put(fmt::format(" /Info {} 0 R", info));
    put(fmt::format(" >>\nstartxref\n{}\n%%EOF\n", table));
}

std::string pdf_text(std::string_view text) {
    std::string hex = "<FEFF";
    for (const char32_t c : characters_of(text)) {
        if (c > 0xFFFF)
            hex += fmt::format("{:04X}{:04X}", 0xD800U + ((c - 0x10000U) >> 10U),
                               0xDC00U + ((c - 0x10000U) & 0x3FFU));
        else
            hex += fmt::format("{:04X}", static_cast<unsigned>(c));
    }
    return hex + ">";
}

} // namespace railside
