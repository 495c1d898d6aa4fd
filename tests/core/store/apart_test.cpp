// decode_apart and railside-decoder, which the environment variable RAILSIDE_DECODER names.
#include "core/store/apart.h"

#include "core/store/image.h"
#include "support/catch.h"
#include "support/temp_folder.h"

#include "pictures.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <fstream>
#include <thread>

#include <dirent.h>
#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

using namespace railside;
namespace fs = std::filesystem;

namespace {

std::string refusal(const Result<Picture>& picture) {
    return picture.ok() ? "" : picture.error().message;
}
bool says(const std::string& message, const std::string& part) {
    return message.find(part) != std::string::npos;
}

/// A program in place of the decoder.
fs::path script(const TempFolder& folder, const std::string& body) {
    const fs::path file = folder / "decoder";
    std::ofstream(file) << "#!/bin/sh\n" << body << "\n";
    fs::permissions(file, fs::perms::owner_all);
    return file;
}

int open_files() {
    int count = 0;
    DIR* folder = ::opendir("/proc/self/fd");
    if (folder == nullptr)
        return 0;
    while (::readdir(folder) != nullptr)
        ++count;
    ::closedir(folder);
    return count;
}

} // namespace

TEST_CASE("apart: the decoder is there", "[core][store]") {
    INFO(decoder_path());
    REQUIRE(fs::is_regular_file(decoder_path()));
}

TEST_CASE("apart: the child gives the same picture as decoding here", "[core][store]") {
    const Result<Bytes> png = encode_png(busy(50, 40));
    REQUIRE(png.ok());
    for (const Bytes& bytes :
         {with_segment(make_jpeg(busy(640, 400)), 0xE1, exif_orientation(6, ByteOrder::big)),
          make_jpeg(busy(300, 200), Scans::progressive), *png})
        for (const int longest : {64, 1600}) {
            const Result<Picture> apart = decode_apart(decoder_path(), bytes, longest, "IMG_1");
            const Result<Picture> here = decode_image(bytes, longest, "IMG_1");
            INFO(refusal(apart));
            REQUIRE(apart.ok());
            REQUIRE(here.ok());
            CHECK(apart->width == here->width);
            CHECK(apart->height == here->height);
            CHECK(apart->rgba == here->rgba);
        }
}

TEST_CASE("apart: the child's refusal comes back with the picture's name", "[core][store]") {
    Bytes jpeg = make_jpeg(busy(200, 100));
    jpeg.resize(jpeg.size() - 200);
    const Result<Picture> picture = decode_apart(decoder_path(), jpeg, 1600, "IMG_1.jpg");
    REQUIRE_FALSE(picture.ok());
    CHECK(picture.error().code == ErrorCode::damaged);
    CHECK(says(refusal(picture),
               "IMG_1.jpg cannot be used: the picture's data is damaged or cut short"));
}

TEST_CASE("apart: a missing or broken decoder is said, not worked around", "[core][store]") {
    const TempFolder folder;
    const Bytes jpeg = make_jpeg(quarters(16, 16));
    const Result<Picture> missing = decode_apart(folder / "nothing", jpeg, 1600, "IMG_1");
    REQUIRE_FALSE(missing.ok());
    CHECK(missing.error().code == ErrorCode::failed);
    CHECK(says(refusal(missing), "nothing is missing"));

    std::ofstream(folder / "text") << "not a program";
    CHECK(says(refusal(decode_apart(folder / "text", jpeg, 1600, "IMG_1")), "did not start"));
    for (const char* body :
         {"exit 0", "kill -9 $$", "cat >/dev/null; exit 3", "cat", "printf RSD1",
          // a width of 0, one of 2^31, more than was asked for, a refusal of 4 GB, of text that is
          // no text
          R"(printf 'RSD1\0\0\0\0\0\0\0\0\1\0\0\0')", R"(printf 'RSD1\0\0\0\0\0\0\0\200\1\0\0\0')",
          R"(printf 'RSD1\0\0\0\0\101\6\0\0\1\0\0\0')",
          R"(printf 'RSD1\1\0\0\0\377\377\377\377\0\0\0\0')",
          R"(printf 'RSD1\1\0\0\0\2\0\0\0\0\0\0\0\377\377')",
          // the right beginning, but less than it says
          R"(printf 'RSD1\0\0\0\0\2\0\0\0\2\0\0\0abc')"}) {
        INFO(body);
        const Result<Picture> picture = decode_apart(script(folder, body), jpeg, 1600, "IMG_1");
        REQUIRE_FALSE(picture.ok());
        CHECK(picture.error().code == ErrorCode::damaged);
        CHECK(says(refusal(picture), "IMG_1 cannot be used"));
    }
    // And one that does answer rightly, so that the scripts above fail for what they say.
    const Result<Picture> answered = decode_apart(
        script(folder, R"(printf 'RSD1\0\0\0\0\1\0\0\0\1\0\0\0abcd')"), jpeg, 1600, "IMG_1");
    REQUIRE(answered.ok());
    CHECK(answered->rgba == std::vector<std::uint8_t>{'a', 'b', 'c', 'd'});
}

TEST_CASE("apart: neither a decoder that stops listening nor a large picture blocks or kills this "
          "process",
          "[core][store]") {
    const TempFolder folder;
    // Far more than a socket holds, of which nothing is read: the sentence comes back all the same.
    Bytes large = make_jpeg(quarters(16, 16));
    large.resize(8'000'000);
    const Result<Picture> deaf =
        decode_apart(script(folder, R"(exec <&-; printf 'RSD1\1\0\0\0\4\0\0\0\0\0\0\0enou')"),
                     large, 1600, "IMG_1");
    CHECK(refusal(deaf) == "enou");
    // Bytes after a JPEG's end are let be, so this is a picture, and all 8 MB go through.
    CHECK(decode_apart(decoder_path(), large, 1600, "IMG_1").ok());
}

TEST_CASE("apart: no process and no open file is left behind", "[core][store]") {
    const TempFolder folder;
    const Bytes jpeg = make_jpeg(busy(100, 80));
    const int before = open_files();
    for (int i = 0; i < 5; ++i) {
        CHECK(decode_apart(decoder_path(), jpeg, 64, "IMG_1").ok());
        CHECK_FALSE(decode_apart(script(folder, "exit 1"), jpeg, 64, "IMG_1").ok());
        CHECK_FALSE(decode_apart(folder / "nothing", jpeg, 64, "IMG_1").ok());
    }
    CHECK(open_files() == before);
    CHECK(::waitpid(-1, nullptr, WNOHANG) == -1);
    CHECK(errno == ECHILD);
}

TEST_CASE("apart: a picture that asks for too much memory ends in a sentence", "[core][store]") {
    // 100 million pixels of 16-bit RGBA are 800 MB; the file is 5 MB.
    const Result<Picture> picture =
        decode_apart(decoder_path(), make_zero_png(10'000, 10'000, 16, 6), 1600, "IMG_1");
    REQUIRE_FALSE(picture.ok());
    CHECK(picture.error().code == ErrorCode::damaged);
    CHECK(says(refusal(picture), "memory"));
}

TEST_CASE("apart: the largest picture accepted is read within the limits", "[core][store]") {
#ifdef RAILSIDE_SANITIZED
    const std::uint32_t side = 5'000; // these take ten times as long
#else
    const std::uint32_t side = 10'000; // 100 million pixels, RGB, 8 bits
#endif
    const Result<Picture> picture =
        decode_apart(decoder_path(), make_zero_png(side, side, 8, 2), 1600, "IMG_1");
    INFO(refusal(picture));
    REQUIRE(picture.ok());
    CHECK(picture->width == 1600);
}

TEST_CASE("apart: a decoder that never answers is ended after ten seconds",
          "[.slow][core][store]") {
    const TempFolder folder;
    const auto begin = std::chrono::steady_clock::now();
    const Result<Picture> picture =
        decode_apart(script(folder, "exec sleep 60"), make_jpeg(quarters(16, 16)), 1600, "IMG_1");
    const auto took = std::chrono::steady_clock::now() - begin;
    CHECK(says(refusal(picture), "more than 10 seconds"));
    CHECK(took >= std::chrono::seconds(10));
    CHECK(took < std::chrono::seconds(15));
}

#if defined(__linux__)
TEST_CASE("apart: the decoder has its hands tied before it reads the picture", "[core][store]") {
    int input[2] = {};
    int output[2] = {};
    REQUIRE(::pipe2(input, O_CLOEXEC) == 0);
    REQUIRE(::pipe2(output, O_CLOEXEC) == 0);
    // One file more that must not stay open in it.
    const int extra = ::open("/dev/null", O_RDONLY);
    REQUIRE(extra >= 0);
    posix_spawn_file_actions_t actions;
    REQUIRE(::posix_spawn_file_actions_init(&actions) == 0);
    ::posix_spawn_file_actions_adddup2(&actions, input[0], 0);
    ::posix_spawn_file_actions_adddup2(&actions, output[1], 1);
    std::string program = decoder_path().string();
    std::string longest = "64";
    std::string name = "IMG_1";
    char* arguments[] = {program.data(), longest.data(), name.data(), nullptr};
    pid_t child = -1;
    REQUIRE(::posix_spawn(&child, program.c_str(), &actions, nullptr, arguments, environ) == 0);
    ::posix_spawn_file_actions_destroy(&actions);
    ::close(input[0]);
    ::close(output[1]);
    ::close(extra);

    const fs::path process = fs::path("/proc") / std::to_string(child);
    const auto line_of = [&](const char* file, const std::string& begin) {
        std::ifstream in(process / file);
        for (std::string line; std::getline(in, line);)
            if (line.rfind(begin, 0) == 0)
                return line.substr(begin.size());
        return std::string();
    };
    const auto limit_of = [&](const std::string& what) {
        const std::string line = line_of("limits", what);
        const std::size_t at = line.find_first_not_of(' ');
        return at == std::string::npos ? line : line.substr(at, line.find(' ', at) - at);
    };
    // It waits for its input once it is ready: until then look again.
    for (int i = 0; i < 500 && limit_of("Max file size") != "0"; ++i)
        std::this_thread::sleep_for(std::chrono::milliseconds(10));
    CHECK(limit_of("Max cpu time") == "10");
    CHECK(limit_of("Max file size") == "0");
    CHECK(limit_of("Max core file size") == "0");
    int open = 0;
    for (const auto& entry : fs::directory_iterator(process / "fd"))
        open += entry.path().filename() != "0" && entry.path().filename() != "1" &&
                        entry.path().filename() != "2"
                    ? 1
                    : 0;
    CHECK(open == 0);
#if !defined(RAILSIDE_SANITIZED)
    for (int i = 0; i < 500 && limit_of("Max address space") == "unlimited"; ++i)
        std::this_thread::sleep_for(std::chrono::milliseconds(2));
    CHECK(limit_of("Max open files") == "0");
    CHECK(limit_of("Max address space") == std::to_string(apart::k_memory_limit));
    const std::string seccomp = [&] {
        std::string found;
        for (int i = 0; i < 500 && found != "2"; ++i) {
            found = line_of("status", "Seccomp:\t");
            std::this_thread::sleep_for(std::chrono::milliseconds(2));
        }
        return found;
    }();
    CHECK(seccomp == "2"); // SECCOMP_MODE_FILTER
    CHECK(line_of("status", "NoNewPrivs:\t") == "1");
#endif

    // Tied as it is, it still answers.
    const Bytes jpeg = make_jpeg(quarters(32, 16));
    CHECK(::write(input[1], jpeg.data(), jpeg.size()) == static_cast<ssize_t>(jpeg.size()));
    ::close(input[1]);
    std::array<std::byte, apart::k_header_bytes> head = {};
    CHECK(::read(output[0], head.data(), head.size()) == static_cast<ssize_t>(head.size()));
    apart::Header header;
    CHECK(apart::unpack(head, header));
    CHECK(header.status == apart::k_picture);
    CHECK(header.a == 32);
    CHECK(header.b == 16);
    std::vector<char> rest(32 * 16 * 4);
    std::size_t have = 0;
    for (ssize_t n = 1; n > 0 && have < rest.size();
         have += static_cast<std::size_t>(std::max<ssize_t>(n, 0)))
        n = ::read(output[0], rest.data() + have, rest.size() - have);
    CHECK(have == rest.size());
    ::close(output[0]);
    int status = 0;
    CHECK(::waitpid(child, &status, 0) == child);
    CHECK(WIFEXITED(status));
    CHECK(WEXITSTATUS(status) == 0);
}
#endif
