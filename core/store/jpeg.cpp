#include "core/store/jpeg.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <csetjmp>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <optional>

#include <jpeglib.h>

namespace railside {

namespace {

constexpr int k_most_scans = 100; // files of tens of thousands of scans are legal and take minutes
constexpr auto k_most_time = std::chrono::seconds(5);
constexpr std::size_t k_channels = 4;

// ---- libjpeg's way of failing
// -----------------------------------------------------------------------------------------
//
// error_exit must not return and an exception must not cross the library's C frames, so it jumps.
// No object with a destructor may live in the frames jumped over: the functions below that call
// setjmp hold plain data only, and all that must be let go of belongs to the caller's Decoding or
// Encoding.

enum class Stop {
    none,
    library, // what the library said
    scans,
    time,
};

struct ErrorManager {
    jpeg_error_mgr base;
    std::jmp_buf back;
    Stop stop;
    char said[JMSG_LENGTH_MAX];
};

ErrorManager* manager_of(j_common_ptr common) {
    return reinterpret_cast<ErrorManager*>(common->err);
}

[[noreturn]] void stop_now(j_common_ptr common, Stop stop) {
    ErrorManager* manager = manager_of(common);
    manager->stop = stop;
    std::longjmp(manager->back, 1);
}

[[noreturn]] void on_error(j_common_ptr common) {
    common->err->format_message(common, manager_of(common)->said);
    stop_now(common, Stop::library);
}

void on_message(j_common_ptr common, int level) {
    if (level < 0)
        ++common->err->num_warnings;
}

void no_output(j_common_ptr common) { static_cast<void>(common); }

void prepare(ErrorManager& manager) {
    jpeg_std_error(&manager.base);
    manager.base.error_exit = on_error;
    manager.base.emit_message = on_message;
    manager.base.output_message = no_output;
    manager.stop = Stop::none;
    manager.said[0] = '\0';
}

using Clock = std::chrono::steady_clock;

struct Progress {
    jpeg_progress_mgr base;
    Clock::time_point until;
};

void check_progress(j_common_ptr common) {
    const auto* progress = reinterpret_cast<const Progress*>(common->progress);
    if (reinterpret_cast<j_decompress_ptr>(common)->input_scan_number > k_most_scans)
        stop_now(common, Stop::scans);
    if (Clock::now() > progress->until)
        stop_now(common, Stop::time);
}

struct Decoding {
    jpeg_decompress_struct library = {};
    ErrorManager errors = {};
    Progress progress = {};
    bool made = false;
    std::size_t stride = 0;
    Picture picture;
    std::vector<std::uint8_t> line;

    Decoding() = default;
    Decoding(const Decoding&) = delete;
    Decoding& operator=(const Decoding&) = delete;
    ~Decoding() {
        if (made)
            jpeg_destroy_decompress(&library);
    }
};

/// Reads the header and settles scale and colours. False when the library stopped.
bool begin(Decoding& decoding, const unsigned char* data, unsigned long size, int longest) {
    jpeg_decompress_struct& library = decoding.library;
    prepare(decoding.errors);
    library.err = &decoding.errors.base;
    if (setjmp(decoding.errors.back) != 0)
        return false;
    jpeg_create_decompress(&library);
    decoding.made = true;
    decoding.progress.base.progress_monitor = check_progress;
    decoding.progress.until = Clock::now() + k_most_time;
    library.progress = &decoding.progress.base;
    jpeg_mem_src(&library, data, size);
    jpeg_read_header(&library, TRUE);
    library.out_color_space = library.num_components == 4 ? JCS_CMYK : JCS_EXT_RGBA;
    // Scaling by eighths costs the least at 1, 2, 4 and 8 of them.
    for (const unsigned eighths : {1U, 2U, 4U, 8U}) {
        library.scale_num = eighths;
        library.scale_denom = 8;
        jpeg_calc_output_dimensions(&library);
        if (std::max(library.output_width, library.output_height) >= static_cast<unsigned>(longest))
            break;
    }
    jpeg_start_decompress(&library);
    return true;
}

/// Reads all lines into the picture, which is large enough. False when the library stopped.
bool read_lines(Decoding& decoding) {
    jpeg_decompress_struct& library = decoding.library;
    if (setjmp(decoding.errors.back) != 0)
        return false;
    while (library.output_scanline < library.output_height) {
        check_progress(reinterpret_cast<j_common_ptr>(&library));
        unsigned char* to =
            decoding.picture.rgba.data() + decoding.stride * library.output_scanline;
        if (library.out_color_space != JCS_CMYK) {
            jpeg_read_scanlines(&library, &to, 1);
            continue;
        }
        unsigned char* line = decoding.line.data();
        if (jpeg_read_scanlines(&library, &line, 1) == 0)
            continue;
        // Programs that write Adobe's marker store ink inverted: 255 is none.
        const bool inverted = library.saw_Adobe_marker != 0;
        for (std::size_t x = 0; x < library.output_width; ++x, line += 4, to += k_channels) {
            const unsigned key = inverted ? line[3] : 255U - line[3];
            for (std::size_t c = 0; c < 3; ++c)
                to[c] =
                    static_cast<unsigned char>((inverted ? line[c] : 255U - line[c]) * key / 255U);
            to[3] = 255;
        }
    }
    jpeg_finish_decompress(&library);
    return true;
}

Error decode_error(const Decoding& decoding, std::string_view file_name) {
    const auto error = [&](std::string message) {
        return Error{ErrorCode::damaged, std::string(file_name), std::move(message)};
    };
    switch (decoding.errors.stop) {
    case Stop::scans:
        return error(worded("{} is not accepted: it draws itself in more than {} passes. Save "
                            "it as an ordinary JPEG, "
                            "then add it again.",
                            file_name, k_most_scans));
    case Stop::time:
        return error(worded("{} is not accepted: reading it takes more than {} seconds. Save "
                            "it smaller, then add it "
                            "again.",
                            file_name, k_most_time.count()));
    case Stop::library:
        if (decoding.errors.base.msg_code != 0 &&
            std::strstr(decoding.errors.said, "nsupported") != nullptr)
            return error(worded("{} is a kind of JPEG that cannot be read here ({}). Save it "
                                "as an ordinary JPEG, then "
                                "add it again.",
                                file_name, decoding.errors.said));
        [[fallthrough]];
    case Stop::none:
        break;
    }
    return error(worded("{} cannot be used: the picture's data is damaged or cut short. Copy "
                        "it from the camera once "
                        "more.",
                        file_name));
}

struct Encoding {
    jpeg_compress_struct library = {};
    ErrorManager errors = {};
    bool made = false;
    unsigned char* data = nullptr; // libjpeg's own malloc
    unsigned long size = 0;
    std::vector<std::uint8_t> line;

    Encoding() = default;
    Encoding(const Encoding&) = delete;
    Encoding& operator=(const Encoding&) = delete;
    ~Encoding() {
        if (made)
            jpeg_destroy_compress(&library);
        std::free(data);
    }
};

bool write_lines(Encoding& encoding, const Picture& picture, int quality) {
    jpeg_compress_struct& library = encoding.library;
    prepare(encoding.errors);
    library.err = &encoding.errors.base;
    if (setjmp(encoding.errors.back) != 0)
        return false;
    jpeg_create_compress(&library);
    encoding.made = true;
    jpeg_mem_dest(&library, &encoding.data, &encoding.size);
    library.image_width = static_cast<JDIMENSION>(picture.width);
    library.image_height = static_cast<JDIMENSION>(picture.height);
    library.input_components = 3;
    library.in_color_space = JCS_RGB;
    jpeg_set_defaults(&library);
    jpeg_set_quality(&library, quality, TRUE);
    // Full colour resolution: marks and drawn edges in a photo stay sharp.
    library.comp_info[0].h_samp_factor = 1;
    library.comp_info[0].v_samp_factor = 1;
    jpeg_start_compress(&library, TRUE);
    while (library.next_scanline < library.image_height) {
        const std::uint8_t* from =
            picture.rgba.data() +
            k_channels * static_cast<std::size_t>(picture.width) * library.next_scanline;
        std::uint8_t* to = encoding.line.data();
        for (int x = 0; x < picture.width; ++x, from += k_channels) {
            const unsigned alpha = from[3];
            for (std::size_t c = 0; c < 3; ++c)
                *to++ = static_cast<std::uint8_t>((from[c] * alpha + 255U * (255U - alpha) + 127U) /
                                                  255U);
        }
        unsigned char* line = encoding.line.data();
        jpeg_write_scanlines(&library, &line, 1);
    }
    jpeg_finish_compress(&library);
    return true;
}

} // namespace

Result<Picture> jpeg_decode(std::span<const std::byte> bytes, int longest,
                            std::string_view file_name) {
    Decoding decoding;
    if (!begin(decoding, reinterpret_cast<const unsigned char*>(bytes.data()),
               static_cast<unsigned long>(bytes.size()), longest))
        return decode_error(decoding, file_name);
    decoding.picture.width = static_cast<int>(decoding.library.output_width);
    decoding.picture.height = static_cast<int>(decoding.library.output_height);
    decoding.stride = std::size_t{decoding.library.output_width} * k_channels;
    decoding.picture.rgba.resize(decoding.stride * decoding.library.output_height);
    if (decoding.library.out_color_space == JCS_CMYK)
        decoding.line.resize(std::size_t{decoding.library.output_width} * 4);
    if (!read_lines(decoding) || decoding.errors.base.num_warnings > 0)
        return decode_error(decoding, file_name);
    return std::move(decoding.picture);
}

Result<std::vector<std::byte>> jpeg_encode(const Picture& picture, int quality) {
    Encoding encoding;
    encoding.line.resize(static_cast<std::size_t>(picture.width) * 3);
    if (!write_lines(encoding, picture, quality))
        return Error{ErrorCode::failed, "picture",
                     worded("The picture could not be written as JPEG: {}.", encoding.errors.said)};
    const auto* data = reinterpret_cast<const std::byte*>(encoding.data);
    return std::vector<std::byte>(data, data + encoding.size);
}

} // namespace railside
