#include "app/command/small_file.h"

#include "core/quantity/refusal.h"

#include <fmt/format.h>

#include <cstdint>
#include <fstream>
#include <iterator>
#include <system_error>

namespace railside {

namespace {

constexpr std::uintmax_t k_most_file = 8U << 20U;

} // namespace

Result<std::string> small_text_file(const std::filesystem::path& file, std::string_view name,
                                    std::string_view shown) {
    std::error_code error;
    const auto size = std::filesystem::file_size(file, error);
    if (error || !std::filesystem::is_regular_file(file, error))
        return refusal(ErrorCode::not_found, name,
                       fmt::format("there is no file {}.", quoted(shown)));
    if (size > k_most_file)
        return refusal(
            ErrorCode::out_of_range, name,
            fmt::format("{} has {} bytes. Accepted: at most 8 MB.", quoted(shown), size));
    std::ifstream stream(file, std::ios::binary);
    std::string text{std::istreambuf_iterator<char>(stream), {}};
    if (!stream && !stream.eof())
        return refusal(ErrorCode::failed, name, fmt::format("{} cannot be read.", quoted(shown)));
    return text;
}

} // namespace railside
