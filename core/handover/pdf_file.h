// The bones of a PDF: numbered objects, streams, the table of their places. Each object goes out as
// it is made, so that no more than one is held. Source: ISO 32000-1 (PDF 1.7).
#pragma once

#include "core/handover/writer.h"

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

class PdfFile {
  public:
    explicit PdfFile(const ReportSink& sink) : sink_(sink) {}

    /// A number for an object that is written later.
    [[nodiscard]] int reserve();
    void object(int number, std::string_view body);
    int object(std::string_view body);
    enum class Packing {
        pack, // made smaller where zlib is there
        as_is,
    };
    /// `dictionary`: what stands in it besides the length and the packing.
    int stream(std::string_view dictionary, std::string_view bytes, Packing packing);
    /// The table and the trailer. `info`: an object, or 0.
    void finish(int catalog, int info);

    /// The first error of the sink; nothing is written after it.
    [[nodiscard]] const Result<Done>& state() const { return state_; }

  private:
    void put(std::string_view bytes);
    void begin(int number);

    const ReportSink& sink_;
    Result<Done> state_ = Done{};
    std::uint64_t at_ = 0;
    std::vector<std::uint64_t> places_; // of object 1, 2, ...
};

/// As a PDF string in UTF-16.
[[nodiscard]] std::string pdf_text(std::string_view text);

} // namespace railside
