// A condition that ends a fuzz target's run when it does not hold, in every build.
#pragma once

#include <cstdio>
#include <cstdlib>

/// What must hold whatever the bytes are.
inline void must_hold(bool condition, const char* what) {
    if (!condition) {
        std::fprintf(stderr, "does not hold: %s\n", what);
        std::abort();
    }
}
