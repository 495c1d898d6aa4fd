// SHA-256 (FIPS 180-4), the name a photo has in the vault. Our own because the program is also
// built for the browser, where no packaged library of it exists, and because it is sixty lines that
// the standard's own examples test.
#pragma once

#include <cstddef>
#include <span>
#include <string>

namespace railside {

/// 64 lower-case hexadecimal digits.
[[nodiscard]] std::string sha256_hex(std::span<const std::byte> bytes);

} // namespace railside
