#include "app/hosts/camera_frames.h"

#include <algorithm>
#include <array>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <utility>
#include <vector>

#include <jerror.h>
#include <jpeglib.h>

namespace railside {

namespace {

// ---- raw ----------------------------------------------------------------------------------------

int pixel_bytes(RawForm form) { return form == RawForm::yuyv ? 2 : 3; }

/// YUYV comes in pairs: an odd width leaves its last pixel without V.
bool whole(const RawFrame& raw) {
    if (raw.width < 1 || raw.height < 1 || raw.width > k_most_frame_side ||
        raw.height > k_most_frame_side || (raw.form == RawForm::yuyv && raw.width % 2 != 0)) {
        return false;
    }
    const auto line =
        static_cast<std::size_t>(raw.width) * static_cast<std::size_t>(pixel_bytes(raw.form));
    if (raw.line_bytes < 0 || static_cast<std::size_t>(raw.line_bytes) < line) {
        return false;
    }
    const auto lines = static_cast<std::size_t>(raw.height - 1);
    return raw.bytes.size() >= lines * static_cast<std::size_t>(raw.line_bytes) + line;
}

std::uint8_t byte_of(int value_256) {
    return static_cast<std::uint8_t>(std::clamp(value_256 / 256, 0, 255));
}

struct Rgb {
    std::uint8_t red, green, blue;
};

/// ITU-R BT.601, in 256ths.
Rgb rgb_of(int y, int u, int v, bool full_range) {
    const int luma = full_range ? 256 * y : 298 * (y - 16);
    const int du = u - 128;
    const int dv = v - 128;
    if (full_range) {
        return {byte_of(luma + 359 * dv + 128), byte_of(luma - 88 * du - 183 * dv + 128),
                byte_of(luma + 454 * du + 128)};
    }
    return {byte_of(luma + 409 * dv + 128), byte_of(luma - 100 * du - 208 * dv + 128),
            byte_of(luma + 516 * du + 128)};
}

/// The mean of `step` by `step` pixels, fewer at the edge; the raw frame is whole.
Rgb mean_at(const RawFrame& raw, int left, int top, int step) {
    int sums[3] = {0, 0, 0};
    int count = 0;
    const int right = std::min(raw.width, left + step);
    const int bottom = std::min(raw.height, top + step);
    for (int y = top; y < bottom; y++) {
        const std::uint8_t* line = raw.bytes.data() + static_cast<std::size_t>(y) *
                                                          static_cast<std::size_t>(raw.line_bytes);
        for (int x = left; x < right; x++, count++) {
            if (raw.form == RawForm::rgb24) {
                for (int c = 0; c < 3; c++) {
                    sums[c] += line[3 * x + c];
                }
            } else {
                const std::uint8_t* pair = line + 4 * (x / 2);
                sums[0] += pair[x % 2 == 0 ? 0 : 2];
                sums[1] += pair[1];
                sums[2] += pair[3];
            }
        }
    }
    for (int& sum : sums) {
        sum = (sum + count / 2) / count;
    }
    if (raw.form == RawForm::yuyv) {
        return rgb_of(sums[0], sums[1], sums[2], raw.full_range);
    }
    return {static_cast<std::uint8_t>(sums[0]), static_cast<std::uint8_t>(sums[1]),
            static_cast<std::uint8_t>(sums[2])};
}

// ---- libjpeg ------------------------------------------------------------------------------------
//
// error_exit must not return, and jumps. The functions that call setjmp hold plain data only; what
// must be let go of belongs to the caller's Decoder or Encoder.

struct Errors {
    jpeg_error_mgr base;
    std::jmp_buf back;
    int stray;  // bytes too many between markers: harmless
    int broken; // any other complaint
};

[[noreturn]] void on_error(j_common_ptr common) {
    std::longjmp(reinterpret_cast<Errors*>(common->err)->back, 1);
}

void on_message(j_common_ptr common, int level) {
    auto* errors = reinterpret_cast<Errors*>(common->err);
    if (level < 0) {
        ++(errors->base.msg_code == JWRN_EXTRANEOUS_DATA ? errors->stray : errors->broken);
    }
}

void no_output(j_common_ptr common) { static_cast<void>(common); }

void prepare(Errors& errors) {
    jpeg_std_error(&errors.base);
    errors.base.error_exit = on_error;
    errors.base.emit_message = on_message;
    errors.base.output_message = no_output;
    errors.stray = 0;
    errors.broken = 0;
}

struct Decoder {
    jpeg_decompress_struct library = {};
    Errors errors = {};
    bool made = false;
    std::size_t stride = 0;
    std::vector<std::uint8_t> rgba;

    Decoder() = default;
    Decoder(const Decoder&) = delete;
    Decoder& operator=(const Decoder&) = delete;
    ~Decoder() {
        if (made) {
            jpeg_destroy_decompress(&library);
        }
    }
};

bool begin(Decoder& decoder, const unsigned char* data, unsigned long size, unsigned longest) {
    jpeg_decompress_struct& library = decoder.library;
    prepare(decoder.errors);
    library.err = &decoder.errors.base;
    if (setjmp(decoder.errors.back) != 0) {
        return false;
    }
    jpeg_create_decompress(&library);
    decoder.made = true;
    jpeg_mem_src(&library, data, size);
    jpeg_read_header(&library, TRUE);
    // Cameras send one baseline scan; more would let a frame cost any amount of work and memory.
    if (library.image_width > k_most_frame_side || library.image_height > k_most_frame_side ||
        library.progressive_mode != 0 || jpeg_has_multiple_scans(&library) != 0 ||
        library.num_components == 4) {
        return false;
    }
    library.out_color_space = JCS_EXT_RGBA;
    library.dct_method = JDCT_IFAST;
    for (const unsigned eighths : {8U, 4U, 2U, 1U}) {
        library.scale_num = eighths;
        library.scale_denom = 8;
        jpeg_calc_output_dimensions(&library);
        if (std::max(library.output_width, library.output_height) <= longest) {
            break;
        }
    }
    if (longest == k_most_frame_side) {
        library.dct_method = JDCT_ISLOW;
    }
    jpeg_start_decompress(&library);
    return true;
}

bool read_lines(Decoder& decoder) {
    jpeg_decompress_struct& library = decoder.library;
    if (setjmp(decoder.errors.back) != 0) {
        return false;
    }
    while (library.output_scanline < library.output_height && decoder.errors.broken == 0) {
        unsigned char* to = decoder.rgba.data() + decoder.stride * library.output_scanline;
        jpeg_read_scanlines(&library, &to, 1);
    }
    if (decoder.errors.broken == 0) {
        jpeg_finish_decompress(&library);
    }
    return decoder.errors.broken == 0;
}

bool decode(Decoder& decoder, std::span<const std::uint8_t> jpeg, unsigned longest) {
    if (!begin(decoder, jpeg.data(), static_cast<unsigned long>(jpeg.size()), longest)) {
        return false;
    }
    decoder.stride = std::size_t{decoder.library.output_width} * 4;
    decoder.rgba.resize(decoder.stride * decoder.library.output_height);
    return read_lines(decoder);
}

struct Encoder {
    jpeg_compress_struct library = {};
    Errors errors = {};
    bool made = false;
    unsigned char* data = nullptr; // libjpeg's own malloc
    unsigned long size = 0;
    std::vector<std::uint8_t> line;

    Encoder() = default;
    Encoder(const Encoder&) = delete;
    Encoder& operator=(const Encoder&) = delete;
    ~Encoder() {
        if (made) {
            jpeg_destroy_compress(&library);
        }
        std::free(data);
    }
};

/// `fill` writes line `y` as RGB.
using Fill = void (*)(const void* from, int y, std::uint8_t* to);

bool write(Encoder& encoder, int width, int height, Fill fill, const void* from) {
    jpeg_compress_struct& library = encoder.library;
    prepare(encoder.errors);
    library.err = &encoder.errors.base;
    if (setjmp(encoder.errors.back) != 0) {
        return false;
    }
    jpeg_create_compress(&library);
    encoder.made = true;
    jpeg_mem_dest(&library, &encoder.data, &encoder.size);
    library.image_width = static_cast<JDIMENSION>(width);
    library.image_height = static_cast<JDIMENSION>(height);
    library.input_components = 3;
    library.in_color_space = JCS_RGB;
    jpeg_set_defaults(&library);
    jpeg_set_quality(&library, k_still_quality, TRUE);
    library.comp_info[0].v_samp_factor = 1; // colours as fine as YUYV has them
    jpeg_start_compress(&library, TRUE);
    while (library.next_scanline < library.image_height) {
        unsigned char* line = encoder.line.data();
        fill(from, static_cast<int>(library.next_scanline), line);
        jpeg_write_scanlines(&library, &line, 1);
    }
    jpeg_finish_compress(&library);
    return true;
}

Result<std::string> encoded(int width, int height, Fill fill, const void* from) {
    Encoder encoder;
    encoder.line.resize(static_cast<std::size_t>(width) * 3);
    if (!write(encoder, width, height, fill, from)) {
        return Error{ErrorCode::failed, "camera",
                     "The camera's picture could not be written as JPEG. Take it once more."};
    }
    return std::string(reinterpret_cast<const char*>(encoder.data), encoder.size);
}

/// Writes SOI, the tables and EOI.
bool write_tables(Encoder& encoder) {
    jpeg_compress_struct& library = encoder.library;
    prepare(encoder.errors);
    library.err = &encoder.errors.base;
    if (setjmp(encoder.errors.back) != 0) {
        return false;
    }
    jpeg_create_compress(&library);
    encoder.made = true;
    jpeg_mem_dest(&library, &encoder.data, &encoder.size);
    library.input_components = 3;
    library.in_color_space = JCS_RGB;
    jpeg_set_defaults(&library);
    jpeg_write_tables(&library);
    return true;
}

constexpr unsigned k_code_tables = 0xC4;
constexpr unsigned k_scan = 0xDA;

/// Where the segment of this kind begins before the scan does; the scan's own place for k_scan.
std::optional<std::size_t> find_segment(std::string_view jpeg, unsigned wanted) {
    const auto at_byte = [&](std::size_t at) { return static_cast<unsigned char>(jpeg[at]); };
    std::size_t at = 2;
    while (at + 4 <= jpeg.size() && at_byte(at) == 0xFF) {
        const unsigned marker = at_byte(at + 1);
        if (marker == wanted) {
            return at;
        }
        if (marker == k_scan) {
            return std::nullopt;
        }
        at += marker == 0xFF ? 1 : 2 + (std::size_t{at_byte(at + 2)} << 8U | at_byte(at + 3));
    }
    return std::nullopt;
}

/// The standard code tables (ITU-T T.81, annex K.3) as segments, as libjpeg writes them.
std::string standard_code_tables() {
    Encoder encoder;
    if (!write_tables(encoder)) {
        return {};
    }
    std::string tables;
    std::string_view rest(reinterpret_cast<const char*>(encoder.data), encoder.size);
    while (const std::optional<std::size_t> at = find_segment(rest, k_code_tables)) {
        const std::size_t length = std::size_t{static_cast<unsigned char>(rest[*at + 2])} << 8U |
                                   static_cast<unsigned char>(rest[*at + 3]);
        tables += rest.substr(*at, 2 + length);
        rest.remove_prefix(*at + length); // two bytes before the next, as after a start marker
    }
    return tables;
}

Error broken_frame() {
    return Error{ErrorCode::damaged, "camera",
                 "The camera's picture came damaged. Take it once more; if it stays so, try "
                 "another cable or socket."};
}

} // namespace

std::optional<CameraFrame> preview_of(const RawFrame& raw, int longest) {
    if (!whole(raw) || longest < 1) {
        return std::nullopt;
    }
    const int side = std::max(raw.width, raw.height);
    const int step = (side + longest - 1) / longest;
    CameraFrame frame;
    frame.width = std::max(1, raw.width / step);
    frame.height = std::max(1, raw.height / step);
    frame.rgba.reserve(static_cast<std::size_t>(frame.width) *
                       static_cast<std::size_t>(frame.height) * 4);
    for (int y = 0; y < frame.height; y++) {
        for (int x = 0; x < frame.width; x++) {
            const Rgb pixel = mean_at(raw, x * step, y * step, step);
            for (const std::uint8_t value :
                 {pixel.red, pixel.green, pixel.blue, std::uint8_t{255}}) {
                frame.rgba.push_back(value);
            }
        }
    }
    return frame;
}

std::optional<CameraFrame> preview_of_jpeg(std::span<const std::uint8_t> jpeg, int longest) {
    Decoder decoder;
    if (jpeg.size() < 4 || longest < 1 || !decode(decoder, jpeg, static_cast<unsigned>(longest))) {
        return std::nullopt;
    }
    CameraFrame frame;
    frame.width = static_cast<int>(decoder.library.output_width);
    frame.height = static_cast<int>(decoder.library.output_height);
    frame.rgba = std::move(decoder.rgba);
    return frame;
}

Result<std::string> still_of(const RawFrame& raw) {
    if (!whole(raw)) {
        return broken_frame();
    }
    const Fill fill = [](const void* from, int y, std::uint8_t* to) {
        const auto& frame = *static_cast<const RawFrame*>(from);
        for (int x = 0; x < frame.width; x++) {
            const Rgb pixel = mean_at(frame, x, y, 1);
            *to++ = pixel.red;
            *to++ = pixel.green;
            *to++ = pixel.blue;
        }
    };
    return encoded(raw.width, raw.height, fill, &raw);
}

Result<std::string> still_of_jpeg(std::span<const std::uint8_t> jpeg) {
    std::string_view bytes(reinterpret_cast<const char*>(jpeg.data()), jpeg.size());
    const std::size_t end = bytes.rfind("\xFF\xD9");
    if (!bytes.starts_with("\xFF\xD8\xFF") || end == std::string_view::npos) {
        return broken_frame();
    }
    bytes = bytes.substr(0, end + 2); // drivers fill up what is left of the buffer
    Decoder look;
    if (!decode(look, jpeg.first(bytes.size()), 1)) { // an eighth: all codes read, few pixels made
        return broken_frame();
    }
    if (look.errors.stray > 0) {
        Decoder full;
        if (!decode(full, jpeg.first(bytes.size()), k_most_frame_side)) {
            return broken_frame();
        }
        const Fill fill = [](const void* from, int y, std::uint8_t* to) {
            const auto& all = *static_cast<const Decoder*>(from);
            const std::uint8_t* line = all.rgba.data() + all.stride * static_cast<std::size_t>(y);
            for (std::size_t x = 0; x < all.stride; x += 4) {
                to = std::copy(line + x, line + x + 3, to);
            }
        };
        return encoded(static_cast<int>(full.library.output_width),
                       static_cast<int>(full.library.output_height), fill, &full);
    }
    std::string file(bytes);
    if (!find_segment(file, k_code_tables)) {
        const std::optional<std::size_t> scan = find_segment(file, k_scan);
        if (!scan) {
            return broken_frame();
        }
        file.insert(*scan, standard_code_tables());
    }
    return file;
}

} // namespace railside
