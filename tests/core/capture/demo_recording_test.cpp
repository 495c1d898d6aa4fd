#include "core/capture/demo_recording.h"

#include "core/capture/analysis.h"
#include "support/catch.h"

#include <fstream>
#include <iterator>
#include <string>

using namespace railside;

TEST_CASE("demo recording: the file is what its generator writes", "[core][capture]") {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/../../assets/demo/right_4_ohm.csv",
                       std::ios::binary);
    REQUIRE(file.good());
    const std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
    CHECK(text.size() < 60'000);
    CHECK(text == demo_recording::csv());
}

TEST_CASE("demo recording: the + half is held at 21.8 V, the − half reaches 33 V whole",
          "[core][capture]") {
    const auto recording = read_recording(demo_recording::csv(), "right_4_ohm.csv");
    REQUIRE(recording.ok());
    CHECK(recording->scale == SampleScale::volt);
    CHECK(recording->notes.empty());
    CHECK(near(recording->step_s, 4e-6, 1e-9));
    const auto figures = analyse_wave(*recording, 0);
    REQUIRE(figures.ok());
    CHECK(near(figures->frequency_hz.value, 1000, 1e-3));
    CHECK(figures->plus.clipped);
    CHECK(near(figures->plus.peak.value, demo_recording::k_held_v, 0.01));
    CHECK_FALSE(figures->minus.clipped);
    CHECK(near(figures->minus.peak.value, -demo_recording::k_peak_v, 0.01));
    // What the soft corner leaves of the flank is enough to tell where the sine was going.
    CHECK(near(figures->plus.intended.value, demo_recording::k_peak_v, 0.03));
    CHECK(near(figures->step, demo_recording::k_step_v, 1e-6));
    CHECK_FALSE(figures->burst);
}
