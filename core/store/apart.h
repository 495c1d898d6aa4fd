// What decode_apart and railside-decoder say to each other.
//
// The program gets `longest` and the picture's name (for its sentences) as arguments, and the
// picture's bytes on its standard input, up to its end. It answers on its standard output, numbers
// as four bytes, lowest first:
//   "RSD1"  status  a  b  ...   status 0: a is the width, b the height, then a·b·4 bytes RGBA, rows
//   top to bottom
//                               status 1: the picture is refused; a bytes of UTF-8, a sentence,
//                               follow; b is 0
// Anything else, or an end before that, counts as no answer.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>

namespace railside::apart {

inline constexpr std::string_view k_magic = "RSD1";
inline constexpr std::size_t k_header_bytes = 16;
inline constexpr std::uint32_t k_picture = 0;
inline constexpr std::uint32_t k_refused = 1;
inline constexpr std::size_t k_most_input = 64'000'000;
inline constexpr std::uint32_t k_most_message = 1000;
inline constexpr int k_time_limit_s = 10;
inline constexpr std::size_t k_memory_limit = std::size_t{768} << 20U;

struct Header {
    std::uint32_t status = 0;
    std::uint32_t a = 0;
    std::uint32_t b = 0;
};

[[nodiscard]] std::array<std::byte, k_header_bytes> pack(const Header& header);
/// False when it does not begin as an answer does.
[[nodiscard]] bool unpack(const std::array<std::byte, k_header_bytes>& bytes, Header& header);

} // namespace railside::apart
