// A photo as it may be given away: in reports and shared pictures, without the place where it was
// taken. Not for job files: those are the bench's own record and keep every original byte for byte.
//
// JPEG (ITU-T T.81), Exif 2.32 (CIPA DC-008, TIFF 6.0 structure), XMP part 3, IPTC-IIM 4.2 in
// Photoshop image resources; PNG third edition. The picture's own data is never touched.
//
// Kept byte for byte: all that decodes the picture, colour profiles, and of the Exif structure
// every field that is understood. Left out:
//   - the GPS directory, wherever a directory points to it;
//   - fields nobody outside can read and which are known to hold places with some cameras (the
//     maker's note), XMP, IPTC, Photoshop and GeoTIFF fields inside Exif, a thumbnail that carries
//     notes of its own;
//   - of the Exif structure every byte that no kept field names, so that nothing stays behind where
//     an earlier program merely cut the pointer: such bytes become zero and the segment keeps its
//     length;
//   - XMP, Photoshop segments and comments with any word about a place; extended XMP;
//   - application segments and ancillary chunks of unknown meaning, and whatever follows the end of
//     the picture (further pictures, video).
// Words that a person wrote into Exif's own text fields (title, artist, comment) stay.
// An Exif structure that is broken or contradicts itself is left out whole, except that the
// orientation, where it can be read, stays in a new segment of its own.
#pragma once

#include "core/result.h"

#include <string>
#include <string_view>

namespace railside {

/// Errors: damaged when the bytes are no JPEG or PNG, or cut short or malformed outside of what is
/// left out: then nothing can be promised about them. `name` is what the message calls the picture.
[[nodiscard]] Result<std::string> strip_location(std::string_view jpeg_or_png_bytes,
                                                 std::string_view name = "The picture");

} // namespace railside
