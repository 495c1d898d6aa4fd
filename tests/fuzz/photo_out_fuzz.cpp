// Whatever the bytes of a picture are, it is given away without its place or not at all, and what
// is given away has nothing left to leave out.
#include "check.h"
#include "core/store/photo_out.h"

#include <cstddef>
#include <cstdint>
#include <string_view>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace railside;
    const std::string_view bytes(reinterpret_cast<const char*>(data), size);
    const auto out = strip_location(bytes, "fuzz.jpg");
    if (!out) {
        must_hold(out.error().message.ends_with('.'), "a refusal is a sentence");
        return 0;
    }
    // An orientation that is kept alone may be longer than what it came out of by its last link.
    must_hold(out->size() <= size + 8, "nothing is added");
    const auto again = strip_location(*out, "fuzz.jpg");
    must_hold(again.ok(), "what is given away is a picture");
    must_hold(*again == *out, "nothing is left to leave out");
    return 0;
}
