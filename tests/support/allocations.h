// Counts what operator new hands out, for tests that want none. A program that uses it compiles
// support/allocations.cpp in.
#pragma once

namespace railside::test {

/// How often operator new has been called so far in this program; always 0 under a sanitizer, which
/// has an operator new of its own.
[[nodiscard]] unsigned long long allocations();

} // namespace railside::test
