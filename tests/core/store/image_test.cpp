#include "core/store/image.h"

#include "core/store/resize.h"
#include "support/catch.h"

#include "pictures.h"

#include <algorithm>
#include <random>

using namespace railside;

namespace {

std::string refusal(const Bytes& bytes) {
    const Result<Picture> picture = decode_image(bytes, 1600, "IMG_1");
    if (picture.ok())
        return "";
    CHECK(picture.error().code == ErrorCode::damaged);
    CHECK(picture.error().field == "IMG_1");
    return picture.error().message;
}

bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

/// The largest difference of any sample.
int difference(const Picture& a, const Picture& b) {
    REQUIRE(a.width == b.width);
    REQUIRE(a.height == b.height);
    int most = 0;
    for (std::size_t i = 0; i < a.rgba.size(); ++i)
        most = std::max(most, std::abs(int{a.rgba[i]} - int{b.rgba[i]}));
    return most;
}

/// Where the stored picture's first row and first column lie in the upright one: the table of
/// Exif 2.3, tag 0112.
enum class Side { top, bottom, left, right };
struct Lie {
    int orientation;
    Side row;
    Side column;
};
constexpr Lie k_lies[] = {
    {1, Side::top, Side::left},     {2, Side::top, Side::right},   {3, Side::bottom, Side::right},
    {4, Side::bottom, Side::left},  {5, Side::left, Side::top},    {6, Side::right, Side::top},
    {7, Side::right, Side::bottom}, {8, Side::left, Side::bottom},
};

/// As a camera held that way would have stored it.
Picture stored(const Picture& whole, const Lie& lie) {
    const bool on_its_side = lie.row == Side::left || lie.row == Side::right;
    Picture picture{
        on_its_side ? whole.height : whole.width, on_its_side ? whole.width : whole.height, {}};
    for (int row = 0; row < picture.height; ++row)
        for (int column = 0; column < picture.width; ++column) {
            int x = 0;
            int y = 0;
            const auto place = [&](Side side, int n) {
                switch (side) {
                case Side::top:
                    y = n;
                    break;
                case Side::bottom:
                    y = whole.height - 1 - n;
                    break;
                case Side::left:
                    x = n;
                    break;
                case Side::right:
                    x = whole.width - 1 - n;
                    break;
                }
            };
            place(lie.row, row);
            place(lie.column, column);
            const std::size_t at =
                4 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(whole.width) +
                     static_cast<std::size_t>(x));
            picture.rgba.insert(picture.rgba.end(),
                                whole.rgba.begin() + static_cast<std::ptrdiff_t>(at),
                                whole.rgba.begin() + static_cast<std::ptrdiff_t>(at) + 4);
        }
    return picture;
}

} // namespace

TEST_CASE("image: all eight orientations come out upright, in both byte orders", "[core][store]") {
    // 64 x 32 and quarters of whole 8 x 8 blocks: at full colour resolution nothing bleeds. 8 steps
    // of 255 is what quality 95 may cost a flat block (its quantisation steps are at most 2 at the
    // lowest frequencies).
    const Picture whole = quarters(64, 32);
    for (const Lie& lie : k_lies)
        for (const ByteOrder order : {ByteOrder::little, ByteOrder::big}) {
            INFO("orientation " << lie.orientation);
            const Result<Bytes> plain = encode_jpeg(stored(whole, lie), 95);
            REQUIRE(plain.ok());
            const Bytes jpeg = with_segment(*plain, 0xE1, exif_orientation(lie.orientation, order));
            const Result<ImageFacts> facts = sniff_image(jpeg, "IMG_1");
            REQUIRE(facts.ok());
            CHECK(facts->orientation == lie.orientation);
            CHECK(facts->width == (lie.orientation >= 5 ? 32 : 64));
            const Result<Picture> picture = decode_image(jpeg, 1600, "IMG_1");
            REQUIRE(picture.ok());
            CHECK(difference(*picture, whole) <= 8);
        }
}

TEST_CASE("image: turning is exact for every orientation", "[core][store]") {
    const Picture whole = busy(7, 5);
    for (const Lie& lie : k_lies) {
        INFO("orientation " << lie.orientation);
        CHECK(difference(upright(stored(whole, lie), lie.orientation), whole) == 0);
    }
    CHECK(difference(upright(whole, 0), whole) == 0);
    CHECK(difference(upright(whole, 9), whole) == 0);
}

TEST_CASE("image: a broken Exif segment leaves the picture as stored", "[core][store]") {
    const Bytes plain = make_jpeg(quarters(32, 16));
    const std::string good = exif_orientation(6, ByteOrder::big);
    const auto orientation = [&](const std::string& exif) {
        const Result<ImageFacts> facts = sniff_image(with_segment(plain, 0xE1, exif), "IMG_1");
        REQUIRE(facts.ok());
        return facts->orientation;
    };
    REQUIRE(orientation(good) == 6);
    // The value lies 6 + 8 + 2 + 12 + 8 bytes in; cut before its end there is none.
    for (std::size_t size = 0; size < 38; ++size)
        CHECK(orientation(good.substr(0, size)) == 1);
    CHECK(orientation(good.substr(0, 38)) == 6);
    for (const int value : {0, 9, 255}) {
        CHECK(orientation(exif_orientation(value, ByteOrder::little)) == 1);
        CHECK(orientation(exif_orientation(value, ByteOrder::big)) == 1);
    }
    std::string bad = good;
    bad[12] = '\xFF'; // the directory lies four gigabytes on
    CHECK(orientation(bad) == 1);
    bad = good;
    bad[14] = '\xFF'; // of 65282 tags
    bad[29] = '\x13'; // and none of them the orientation
    CHECK(orientation(bad) == 1);
    bad = good;
    bad[31] = '\x04'; // a LONG
    CHECK(orientation(bad) == 1);
    std::mt19937 chance(7);
    for (int i = 0; i < 20'000; ++i) {
        std::string mutated = good;
        for (int n = 0; n < 3; ++n)
            mutated[6 + chance() % (mutated.size() - 6)] = static_cast<char>(chance());
        const int found = orientation(mutated);
        REQUIRE(found >= 1);
        REQUIRE(found <= 8);
    }
}

TEST_CASE("image: the longer side is at most what was asked, and never more than it was",
          "[core][store]") {
    const Bytes jpeg = make_jpeg(quarters(640, 400));
    const Result<Bytes> png = encode_png(quarters(640, 400));
    REQUIRE(png.ok());
    for (const Bytes& bytes : {jpeg, *png})
        for (const int longest : {1, 2, 37, 79, 80, 81, 159, 160, 256, 320, 321, 639, 640, 1600}) {
            INFO(longest);
            const Result<Picture> picture = decode_image(bytes, longest, "IMG_1");
            REQUIRE(picture.ok());
            CHECK(std::max(picture->width, picture->height) == std::min(longest, 640));
            // 400/640 of it, to the nearest pixel; the decoder's own scaling rounds up by less than
            // one pixel more.
            CHECK(std::abs(picture->height - std::max(1.0, picture->width * 400.0 / 640.0)) <= 1.0);
            CHECK(picture->rgba.size() == static_cast<std::size_t>(picture->width) *
                                              static_cast<std::size_t>(picture->height) * 4);
        }
    for (const int longest : {0, -1, 16385}) {
        const Result<Picture> picture = decode_image(jpeg, longest, "IMG_1");
        REQUIRE_FALSE(picture.ok());
        CHECK(picture.error().code == ErrorCode::out_of_range);
    }
}

TEST_CASE("image: making smaller is the average over the covered area", "[core][store]") {
    // 3 pixels to 2: each covers one and a half, so 0, 90, 255 give (0 + 45)/1.5 = 30 and (45 +
    // 255)/1.5 = 200.
    const Picture row{3, 1, {0, 0, 0, 255, 90, 90, 90, 255, 255, 255, 255, 255}};
    const Picture two = shrunk(row, 2);
    REQUIRE(two.width == 2);
    REQUIRE(two.height == 1);
    CHECK(two.rgba == std::vector<std::uint8_t>{30, 30, 30, 255, 200, 200, 200, 255});
    // By a whole number it is the plain mean.
    const Picture large = busy(12, 8);
    const Picture small = shrunk(large, 3);
    for (int y = 0; y < 2; ++y)
        for (int x = 0; x < 3; ++x)
            for (int c = 0; c < 4; ++c) {
                int sum = 0;
                for (int dy = 0; dy < 4; ++dy)
                    for (int dx = 0; dx < 4; ++dx)
                        sum += large.rgba[static_cast<std::size_t>(
                            ((y * 4 + dy) * 12 + x * 4 + dx) * 4 + c)];
                // Half a step for rounding.
                CHECK(std::abs(small.rgba[static_cast<std::size_t>((y * 3 + x) * 4 + c)] -
                               sum / 16.0) <= 0.5 + 1e-9);
            }
}

TEST_CASE(
    "image: JPEG of one scan, progressive, grey and of four inks, PNG of every depth, are read",
    "[core][store]") {
    const Picture whole = quarters(64, 48);
    const auto close = [&](const Bytes& bytes, const Picture& to, int most) {
        const Result<Picture> picture = decode_image(bytes, 1600, "IMG_1");
        INFO((picture.ok() ? "" : picture.error().message));
        REQUIRE(picture.ok());
        REQUIRE(picture->width == to.width);
        REQUIRE(picture->height == to.height);
        // libjpeg's defaults halve the colour resolution: where two quarters meet, colour bleeds
        // over up to 4 pixels.
        for (int y = 0; y < to.height; ++y)
            for (int x = 0; x < to.width; ++x)
                if (std::abs(x - to.width / 2) > 4 && std::abs(y - to.height / 2) > 4)
                    for (int c = 0; c < 4; ++c) {
                        const auto at = static_cast<std::size_t>((y * to.width + x) * 4 + c);
                        REQUIRE(std::abs(int{picture->rgba[at]} - int{to.rgba[at]}) <= most);
                    }
    };
    close(make_jpeg(whole, Scans::one), whole, 8);
    close(make_jpeg(whole, Scans::progressive), whole, 8);
    close(make_jpeg(whole, Scans::one, JCS_CMYK), whole, 12);
    const Picture grey{16, 16, std::vector<std::uint8_t>(16 * 16 * 4, 255)};
    close(make_jpeg(grey, Scans::one, JCS_GRAYSCALE), grey, 2);
    Result<Bytes> png = encode_png(whole);
    REQUIRE(png.ok());
    close(*png, whole, 0);
    for (const int bits : {8, 16})
        for (const int colour : {0, 2, 6}) {
            const Result<Picture> zeros =
                decode_image(make_zero_png(33, 21, bits, colour), 1600, "IMG_1");
            REQUIRE(zeros.ok());
            CHECK(zeros->width == 33);
            CHECK(zeros->rgba[0] == 0);
            CHECK(zeros->rgba[3] == (colour == 6 ? 0 : 255));
        }
}

TEST_CASE("image: what is written is read back", "[core][store]") {
    const Picture whole = busy(33, 21);
    const Result<Bytes> png = encode_png(whole);
    REQUIRE(png.ok());
    CHECK(difference(decode_image(*png, 100, "a").value(), whole) == 0);
    // Transparent parts become white in a JPEG.
    Picture clear = quarters(16, 16);
    for (std::size_t i = 3; i < clear.rgba.size(); i += 4)
        clear.rgba[i] = 0;
    const Result<Bytes> jpeg = encode_jpeg(clear, 90);
    REQUIRE(jpeg.ok());
    const Picture white{16, 16, std::vector<std::uint8_t>(16 * 16 * 4, 255)};
    CHECK(difference(decode_image(*jpeg, 100, "a").value(), white) <= 1);
    flatten(clear);
    CHECK(difference(clear, white) == 0);

    CHECK_FALSE(encode_png(Picture{}).ok());
    CHECK_FALSE(encode_png(Picture{2, 2, {1, 2, 3}}).ok());
    CHECK_FALSE(encode_jpeg(Picture{20000, 1, std::vector<std::uint8_t>(80000)}, 90).ok());
    CHECK_FALSE(encode_jpeg(whole, 0).ok());
    CHECK_FALSE(encode_jpeg(whole, 101).ok());
}

TEST_CASE("image: other kinds of file are named, with what to do", "[core][store]") {
    CHECK(says(refusal(bytes_of(std::string("\0\0\0\x18"
                                            "ftypheic\0\0\0\0",
                                            16))),
               "IMG_1 is a HEIC picture"));
    CHECK(says(refusal(bytes_of(std::string("\0\0\0\x18"
                                            "ftypmif1\0\0\0\0",
                                            16))),
               "Most compatible"));
    CHECK(says(refusal(bytes_of(std::string("\0\0\0\x18"
                                            "ftypavif\0\0\0\0",
                                            16))),
               "AVIF"));
    CHECK(says(refusal(bytes_of(std::string("\0\0\0\x18"
                                            "ftypmp42\0\0\0\0",
                                            16))),
               "video"));
    CHECK(says(refusal(bytes_of(std::string("RIFF\0\0\0\0WEBPVP8 ", 16))), "WebP file"));
    CHECK(says(refusal(bytes_of("GIF89a")), "GIF file"));
    CHECK(says(refusal(bytes_of(std::string("II*\0rest", 8))), "TIFF or raw"));
    CHECK(says(refusal(bytes_of(std::string("MM\0*rest", 8))), "TIFF or raw"));
    CHECK(says(refusal(bytes_of("%PDF-1.7")), "PDF"));
    CHECK(says(refusal(bytes_of("BM......")), "BMP"));
    CHECK(says(refusal(bytes_of("hello")), "is not a picture; JPEG and PNG are accepted"));
    CHECK(says(refusal({}), "is not a picture"));
}

TEST_CASE("image: too large a file, side or area is refused before anything is decoded",
          "[core][store]") {
    CHECK(says(refusal(Bytes(64'000'001)), "65 MB; at most 64 MB"));
    CHECK(says(refusal(make_zero_png(16385, 1, 8, 0)),
               "16385 x 1 pixels; accepted are at most 16384"));
    Bytes png = make_zero_png(10, 10, 8, 0);
    const auto set_side = [&](std::size_t at, std::uint32_t value) {
        for (std::size_t i = 0; i < 4; ++i)
            png[at + i] = static_cast<std::byte>(value >> (24 - 8 * i) & 0xFFU);
    };
    set_side(16, 10001);
    set_side(20, 10000);
    CHECK(says(refusal(png), "100 million"));
    set_side(16, 0);
    CHECK(says(refusal(png), "0 x 10000"));
    set_side(16, 0xFFFFFFFFU);
    CHECK(says(refusal(png), "damaged"));

    Bytes jpeg = make_jpeg(quarters(16, 16));
    const Bytes frame = bytes_of(std::string("\xFF\xC0\x00\x11\x08", 5));
    const auto at = std::search(jpeg.begin(), jpeg.end(), frame.begin(), frame.end());
    REQUIRE(at != jpeg.end());
    for (int i = 5; i < 9; ++i)
        at[i] = std::byte{0xFF};
    CHECK(says(refusal(jpeg), "65535 x 65535"));
    at[5] = at[6] = std::byte{0};
    CHECK(says(refusal(jpeg), "65535 x 0"));
}

TEST_CASE("image: a JPEG of more than 100 scans is refused", "[core][store]") {
    CHECK(says(refusal(make_jpeg(quarters(32, 32), Scans::very_many)), "more than 100 passes"));
}

TEST_CASE("image: a picture cut off anywhere is refused", "[core][store]") {
    const Result<Bytes> png = encode_png(busy(24, 18));
    REQUIRE(png.ok());
    for (const Bytes& whole :
         {make_jpeg(busy(48, 33)), make_jpeg(busy(48, 33), Scans::progressive),
          with_segment(make_jpeg(quarters(32, 16)), 0xE1, exif_orientation(6, ByteOrder::big)),
          *png}) {
        REQUIRE(refusal(whole) == "");
        std::size_t accepted = 0;
        for (std::size_t size = 0; size < whole.size(); ++size)
            if (decode_image(std::span(whole).first(size), 1600, "IMG_1").ok())
                ++accepted;
        CHECK(accepted == 0);
    }
}

TEST_CASE("image: a PNG with any byte changed is refused", "[core][store]") {
    const Result<Bytes> png = encode_png(busy(24, 18));
    REQUIRE(png.ok());
    for (std::size_t at = 0; at < png->size(); ++at) {
        Bytes changed = *png;
        changed[at] ^= std::byte{0x10};
        INFO(at);
        CHECK_FALSE(decode_image(changed, 1600, "IMG_1").ok());
    }
}

TEST_CASE("image: damaged data inside a JPEG is refused", "[core][store]") {
    Bytes jpeg = make_jpeg(busy(64, 64));
    // In the middle of the scan: a marker that does not belong there.
    jpeg[jpeg.size() / 2] = std::byte{0xFF};
    jpeg[jpeg.size() / 2 + 1] = std::byte{0xC4};
    CHECK(says(refusal(jpeg), "damaged or cut short"));
    // 12 bits a sample, a legal kind that is not read here.
    Bytes deep = make_jpeg(quarters(16, 16));
    const Bytes frame = bytes_of(std::string("\xFF\xC0\x00\x11\x08", 5));
    const auto at = std::search(deep.begin(), deep.end(), frame.begin(), frame.end());
    REQUIRE(at != deep.end());
    at[4] = std::byte{12};
    CHECK(says(refusal(deep), "Unsupported JPEG data precision"));
}

TEST_CASE("image: random changes give a picture or a refusal", "[core][store]") {
    const Result<Bytes> png = encode_png(busy(24, 18));
    REQUIRE(png.ok());
    std::mt19937 chance(20);
    std::size_t read = 0;
    std::size_t refused = 0;
    for (const Bytes& whole :
         {make_jpeg(busy(48, 33)), make_jpeg(busy(65, 49), Scans::progressive),
          make_jpeg(busy(17, 9), Scans::one, JCS_CMYK),
          with_segment(make_jpeg(quarters(32, 16)), 0xE1, exif_orientation(6, ByteOrder::big)),
          *png, make_zero_png(40, 40, 16, 6)})
        for (int i = 0; i < 1000; ++i) {
            Bytes bytes = whole;
            for (std::size_t n = 1 + chance() % 6; n > 0; --n) {
                const std::size_t at = chance() % bytes.size();
                switch (chance() % 4) {
                case 0:
                    bytes[at] = static_cast<std::byte>(chance());
                    break;
                case 1:
                    bytes[at] ^= static_cast<std::byte>(1U << chance() % 8);
                    break;
                case 2:
                    bytes.erase(bytes.begin() + static_cast<std::ptrdiff_t>(at));
                    break;
                default:
                    bytes.insert(bytes.begin() + static_cast<std::ptrdiff_t>(at),
                                 static_cast<std::byte>(chance()));
                }
            }
            const Result<Picture> picture = decode_image(bytes, 64, "IMG_1");
            if (picture.ok()) {
                REQUIRE(picture->rgba.size() == static_cast<std::size_t>(picture->width) *
                                                    static_cast<std::size_t>(picture->height) * 4);
                ++read;
            } else {
                REQUIRE_FALSE(picture.error().message.empty());
                ++refused;
            }
        }
    // Both happen, or the changes were no test.
    CHECK(read > 100);
    CHECK(refused > 1000);
}
