#include "core/capture/wav.h"

#include "core/capture/signals.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <cmath>
#include <limits>
#include <string>

using namespace railside;
using namespace signals;

namespace {

Recording read(const std::string& bytes) {
    auto recording = read_wav(bytes, "right.wav");
    INFO((recording.ok() ? std::string() : recording.error().message));
    REQUIRE(recording.ok());
    return *std::move(recording);
}

Error refused(const std::string& bytes) {
    const auto recording = read_wav(bytes, "right.wav");
    REQUIRE_FALSE(recording.ok());
    CHECK(recording.error().field == "right.wav");
    CHECK(recording.error().message.ends_with('.'));
    return recording.error();
}

bool holds(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

const std::vector<double>& five() {
    static const std::vector<double> k_five{0, 0.5, -0.5, 0.25, -0.125};
    return k_five;
}

} // namespace

TEST_CASE("wav: PCM of 8, 16, 24 and 32 bits and float of 32 and 64", "[core][capture]") {
    struct Row {
        unsigned tag;
        int bits;
        double step;
    };
    for (const Row& row : {Row{1, 8, 1.0 / 128}, Row{1, 16, 1.0 / 32768}, Row{1, 24, 1.0 / 8388608},
                           Row{1, 32, 1.0 / 2147483648}, Row{3, 32, 0}, Row{3, 64, 0}}) {
        for (const bool extensible : {false, true}) {
            INFO(row.tag << ' ' << row.bits << ' ' << extensible);
            WavForm form;
            form.tag = row.tag;
            form.bits = row.bits;
            form.extensible = extensible;
            const Recording recording = read(wav_of(five(), 44100, form));
            REQUIRE(recording.channels.size() == 1);
            CHECK(recording.channels[0].samples == five()); // all are whole steps of 8 bits
            CHECK(recording.channels[0].step == row.step);
            CHECK(recording.scale == SampleScale::full_scale);
            CHECK(recording.timed);
            CHECK(near(recording.step_s, 1 / 44100.0, 1e-15));
            CHECK(recording.notes.empty());
        }
    }
}

TEST_CASE("wav: channels are told apart, and more than four are left out", "[core][capture]") {
    WavForm form;
    form.channels = 2;
    const Recording two = read(wav_of(five(), 48000, form));
    REQUIRE(two.channels.size() == 2);
    CHECK(two.channels[0].samples[1] == 0.5);
    CHECK(two.channels[1].samples[1] == -0.5);
    form.channels = 6;
    const Recording six = read(wav_of(five(), 48000, form));
    CHECK(six.channels.size() == k_most_channels);
    REQUIRE(six.notes.size() == 1);
    CHECK(holds(six.notes[0], "first 4 of 6 channels"));
}

TEST_CASE("wav: chunks that are not known are passed over, odd ones with their padding",
          "[core][capture]") {
    WavForm form;
    form.before = chunk("JUNK", std::string(28, 'x')) + chunk("odd ", "abc");
    form.between = chunk("fact", little_endian(5, 4)) + chunk("LIST", "INFOabcde");
    CHECK(read(wav_of(five(), 44100, form)).channels[0].samples == five());
    CHECK(read(wav_of(five(), 44100) + chunk("LIST", "after")).channels[0].samples == five());
}

TEST_CASE("wav: wrong sizes take what is there", "[core][capture]") {
    WavForm form;
    form.claims_nothing = true; // a recorder that was cut off
    CHECK(read(wav_of(five(), 44100, form)).channels[0].samples == five());
    form = {};
    form.data_size = 0xffffffff; // one that streams
    CHECK(read(wav_of(five(), 44100, form)).channels[0].samples == five());
    form.data_size = 4'000'000'000; // a claim of gigabytes
    const Recording claimed = read(wav_of(five(), 44100, form));
    CHECK(claimed.channels[0].samples == five());
    REQUIRE(claimed.notes.size() == 1);
    CHECK(holds(claimed.notes[0], "ends early: 10 of 4000000000 bytes"));
    std::string whole = wav_of(five(), 44100);
    whole.replace(4, 4, little_endian(3, 4)); // the container's own size
    CHECK(read(whole).channels[0].samples == five());
}

TEST_CASE("wav: a file that ends early gives the whole samples that are there", "[core][capture]") {
    const std::string whole = wav_of(five(), 44100);
    CHECK(read(whole.substr(0, whole.size() - 3)).size() == 3); // 7 of 10 bytes
    const Error none = refused(whole.substr(0, whole.size() - 8));
    CHECK(none.code == ErrorCode::damaged);
    CHECK(holds(none.message, "two or more were expected"));
}

TEST_CASE("wav: every cut is read or refused in a sentence", "[core][capture]") {
    WavForm form;
    form.extensible = true;
    form.channels = 2;
    form.before = chunk("odd ", "abc");
    const std::string whole = wav_of(five(), 44100, form);
    for (std::size_t size = 0; size < whole.size(); ++size) {
        const auto recording = read_wav(whole.substr(0, size), "x");
        CHECK((recording.ok() || recording.error().message.ends_with('.')));
    }
}

TEST_CASE("wav: readings at the ends of the range are counted", "[core][capture]") {
    const Recording recording = read(wav_of({0.5, 1, 1, 0.9, -1, -0.9, 1, 0}, 44100));
    CHECK(recording.channels[0].over_high == 3);
    CHECK(recording.channels[0].over_low == 1);
}

TEST_CASE("wav: float samples that are no numbers are left out", "[core][capture]") {
    WavForm form;
    form.tag = 3;
    form.bits = 32;
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const double infinite = std::numeric_limits<double>::infinity();
    const Recording recording = read(wav_of({0.5, nan, infinite, 1e30, 2.5}, 44100, form));
    CHECK(std::isnan(recording.channels[0].samples[1]));
    CHECK(std::isnan(recording.channels[0].samples[2]));
    CHECK(std::isnan(recording.channels[0].samples[3]));
    CHECK(recording.channels[0].samples[4] == 2.5); // float may go beyond full scale
    REQUIRE(recording.notes.size() == 1);
    CHECK(holds(recording.notes[0], "3 samples are no numbers"));
}

TEST_CASE("wav: what cannot be read is refused by what was expected", "[core][capture]") {
    const std::string good = wav_of(five(), 44100);
    const auto with = [&good](std::size_t at, const std::string& bytes) {
        std::string changed = good;
        return changed.replace(at, bytes.size(), bytes);
    };
    struct Row {
        std::string bytes;
        ErrorCode code;
        const char* says;
    };
    const Row table[] = {
        {"", ErrorCode::refused, "does not begin with RIFF"},
        {"RIFF", ErrorCode::refused, "RIFF with WAVE inside"},
        {with(8, "AVI "), ErrorCode::refused, "RIFF with WAVE inside"},
        {with(0, "RIFX"), ErrorCode::refused, "usual kind"},
        {with(12, "fmt_"), ErrorCode::damaged, "before the \"fmt \" chunk"},
        {with(36, "dat_"), ErrorCode::damaged, "no \"data\" chunk"},
        {good.substr(0, 12), ErrorCode::damaged, "no \"fmt \" chunk"},
        {with(16, little_endian(8, 4)), ErrorCode::damaged, "8 bytes; 16 or more"},
        {with(20, little_endian(2, 2)), ErrorCode::refused, "ADPCM (tag 2)"},
        {with(20, little_endian(0x55, 2)), ErrorCode::refused, "MP3"},
        {with(20, little_endian(999, 2)), ErrorCode::refused, "not known here"},
        {with(20, little_endian(0xfffe, 2)), ErrorCode::damaged, "40 were expected"},
        {with(22, little_endian(0, 2)), ErrorCode::damaged, "no channels"},
        {with(24, little_endian(0, 4)), ErrorCode::damaged, "sample rate is 0 Hz"},
        {with(24, little_endian(0xffffffff, 4)), ErrorCode::damaged, "sample rate"},
        {with(34, little_endian(12, 2)), ErrorCode::refused, "PCM of 12 bits"},
        {with(34, little_endian(0, 2)), ErrorCode::refused, "PCM of 0 bits"},
    };
    for (const Row& row : table) {
        const Error error = refused(row.bytes);
        INFO(error.message);
        CHECK(error.code == row.code);
        CHECK(holds(error.message, row.says));
    }
}

TEST_CASE("wav: no more samples are kept than the bound", "[core][capture][.slow]") {
    WavForm form;
    form.bits = 8;
    form.channels = 4;
    const Recording recording = read(wav_of(std::vector<double>(1'200'000, 0.25), 48000, form));
    CHECK(recording.size() * recording.channels.size() == k_most_samples);
    CHECK(holds(recording.notes.at(0), "Only the first"));
}

TEST_CASE("wav: samples come back as they went, to half a step", "[core][capture]") {
    CHECK(rc::check("forms", [] {
        const auto& [tag, bits] =
            *rc::gen::element(std::pair{1U, 8}, std::pair{1U, 16}, std::pair{1U, 24},
                              std::pair{1U, 32}, std::pair{3U, 32}, std::pair{3U, 64});
        WavForm form;
        form.tag = tag;
        form.bits = bits;
        form.channels = *rc::gen::inRange(1, 5);
        form.extensible = *rc::gen::arbitrary<bool>();
        if (*rc::gen::arbitrary<bool>()) {
            form.between =
                chunk("note", std::string(static_cast<std::size_t>(*rc::gen::inRange(0, 9)), 'n'));
        }
        std::vector<double> samples;
        const int count = *rc::gen::inRange(2, 50);
        for (int i = 0; i < count; ++i) {
            samples.push_back(*rc::gen::inRange(-999, 1000) / 1001.0);
        }
        const auto recording = read_wav(wav_of(samples, 8000, form), "x");
        RC_ASSERT(recording.ok());
        RC_ASSERT(recording->channels.size() == static_cast<std::size_t>(form.channels));
        const double half = tag == 3 ? 1e-7 : std::ldexp(1.0, -bits);
        for (std::size_t i = 0; i < samples.size(); ++i) {
            RC_ASSERT(near_abs(recording->channels[0].samples[i], samples[i], half * 1.001));
        }
    }));
}
