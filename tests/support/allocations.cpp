#include "support/allocations.h"

#include <atomic>
#include <cstdlib>
#include <new>

namespace {
std::atomic<unsigned long long> g_allocations{0};
} // namespace

namespace railside::test {
unsigned long long allocations() { return g_allocations.load(); }
} // namespace railside::test

#if !defined(RAILSIDE_SANITIZED)
void* operator new(std::size_t size) {
    ++g_allocations;
    if (void* memory = std::malloc(size > 0 ? size : 1)) {
        return memory;
    }
    throw std::bad_alloc();
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }
#endif
