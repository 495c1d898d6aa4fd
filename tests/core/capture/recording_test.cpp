#include "core/capture/recording.h"

#include "core/capture/signals.h"
#include "support/catch.h"

#include <string>

using namespace railside;

TEST_CASE("recording: the form is known by the bytes, not by the name", "[core][capture]") {
    signals::Wave wave;
    const auto csv = read_recording(signals::csv_of(wave), "a.wav");
    REQUIRE(csv.ok());
    CHECK(csv->scale == SampleScale::volt);
    const auto wav = read_recording(signals::wav_of({0, 0.5, -0.5}, 8000), "a.csv");
    REQUIRE(wav.ok());
    CHECK(wav->scale == SampleScale::full_scale);
}

TEST_CASE("recording: other kinds of file are refused by what they are", "[core][capture]") {
    struct Row {
        std::string bytes;
        const char* says;
    };
    const Row table[] = {
        {"", "empty"},
        {"\x89PNG\r\n\x1a\n", "a picture"},
        {"\xff\xd8\xff\xe0 JFIF", "a picture"},
        {"PK\x03\x04 xl/workbook", "a spreadsheet"},
        {"ID3\x03", "compressed sound"},
        {"OggS", "compressed sound"},
    };
    for (const Row& row : table) {
        const auto recording = read_recording(row.bytes, "x.csv");
        REQUIRE_FALSE(recording.ok());
        INFO(recording.error().message);
        CHECK(recording.error().code == ErrorCode::refused);
        CHECK(recording.error().message.find(row.says) != std::string::npos);
        CHECK(recording.error().message.find("CSV") != std::string::npos);
        CHECK(recording.error().message.ends_with('.'));
    }
}
