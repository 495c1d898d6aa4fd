// Which hand works the screen: rail and keys stand at its side.
#pragma once

namespace railside {

enum class Hand {
    right, // rail and keys at the right
    left,  // mirrored
};

} // namespace railside
