#include "core/capture/csv.h"

#include "core/capture/signals.h"
#include "support/catch.h"

#include <rapidcheck.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <string>

using namespace railside;

namespace {

Recording read(const std::string& text) {
    auto recording = read_csv(text, "right.csv");
    INFO(text.substr(0, 200));
    INFO((recording.ok() ? std::string() : recording.error().message));
    REQUIRE(recording.ok());
    return *std::move(recording);
}

std::string refused(const std::string& text) {
    const auto recording = read_csv(text, "right.csv");
    INFO(text.substr(0, 200));
    REQUIRE_FALSE(recording.ok());
    CHECK(recording.error().field == "right.csv");
    CHECK(recording.error().message.starts_with("right.csv: "));
    CHECK(recording.error().message.ends_with('.'));
    return recording.error().message;
}

bool holds(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

bool mentions(const Recording& recording, const std::string& part) {
    for (const std::string& note : recording.notes) {
        if (holds(note, part)) {
            return true;
        }
    }
    return false;
}

/// Times 0, 4 µs, 8 µs, 12 µs and volts 0.5, −1.25, 2, 0.
void check_four(const Recording& recording) {
    REQUIRE(recording.channels.size() == 1);
    REQUIRE(recording.size() == 4);
    CHECK(recording.timed);
    CHECK(recording.times_s.empty());
    CHECK(near(recording.step_s, 4e-6, 1e-12));
    const auto& samples = recording.channels[0].samples;
    CHECK(near_abs(samples[0], 0.5, 1e-15));
    CHECK(near_abs(samples[1], -1.25, 1e-15));
    CHECK(near_abs(samples[2], 2, 1e-15));
    CHECK(near_abs(samples[3], 0, 1e-15));
}

/// `rows` lines made of a time, the separator and a value that changes.
std::string rows(int count, const std::string& separator = ",", double step = 1e-3) {
    std::string text;
    for (int i = 0; i < count; ++i) {
        text += fmt::format("{:.6f}{}{:.3f}\n", i * step, separator, std::sin(i * 0.1));
    }
    return text;
}

std::string utf16(const std::string& text, bool little) {
    std::string result = little ? "\xff\xfe" : "\xfe\xff";
    for (const char c : text) {
        result += little ? std::string{c, '\0'} : std::string{'\0', c};
    }
    return result;
}

} // namespace

TEST_CASE("csv: the worked example", "[core][capture]") {
    const Recording recording = read("Sample interval;4 us\n"
                                     "Time;CH1;CH2\n"
                                     "ms;V;mV\n"
                                     "-0,004;0,5;12\n"
                                     "0;-1,25;-8\n"
                                     "0,004;2;4,5\n");
    REQUIRE(recording.channels.size() == 2);
    CHECK(recording.size() == 3);
    CHECK(recording.scale == SampleScale::volt);
    CHECK(near(recording.step_s, 4e-6, 1e-9));
    CHECK(near(recording.start_s, -4e-6, 1e-9));
    CHECK(recording.channels[0].name == "CH1");
    CHECK(recording.channels[1].name == "CH2");
    CHECK(recording.channels[0].samples[1] == -1.25);
    CHECK(near(recording.channels[1].samples[2], 0.0045, 1e-15));
    CHECK(recording.notes.empty());
}

TEST_CASE("csv: comma, semicolon, tab, bar and blanks part the cells", "[core][capture]") {
    for (const std::string separator : {",", ";", "\t", "|", " ", "   ", ", ", " ; "}) {
        INFO('"' << separator << '"');
        std::string text;
        for (const auto& [time, volt] :
             {std::pair{"0", "0.5"}, {"4e-6", "-1.25"}, {"8e-6", "2"}, {"12e-6", "0"}}) {
            text += time + separator + volt + '\n';
        }
        check_four(read(text));
    }
}

TEST_CASE("csv: a comma is a decimal mark where another mark or quotes part the cells",
          "[core][capture]") {
    check_four(read("0;0,5\n0,000004;-1,25\n0,000008;2,0\n0,000012;0\n"));
    check_four(read("0\t0,5\n4,0e-6\t-1,25\n8,0E-6\t2\n1,2e-5\t0\n"));
    check_four(read("\"0,0\",\"0,5\"\n\"0,000004\",\"-1,25\"\n\"0,000008\",\"2,0\"\n"
                    "\"0,000012\",\"0,0\"\n"));
}

TEST_CASE("csv: one number a line with a decimal comma is one column, unless the first part counts",
          "[core][capture]") {
    const Recording one = read("1,25\n1,50\n1,25\n0,75\n");
    REQUIRE(one.channels.size() == 1);
    CHECK(one.channels[0].samples[1] == 1.5);
    CHECK_FALSE(one.timed);
    const Recording counted = read("0,128\n1,131\n2,127\n3,120\n");
    REQUIRE(counted.channels.size() == 1);
    CHECK(counted.channels[0].samples[1] == 131);
}

TEST_CASE("csv: signs, exponents and more digits than a double holds", "[core][capture]") {
    const Recording recording = read("0,+1.5E+0\n1e-3,-1.5e-03\n2E-3,.5\n0.003,2.\n"
                                     "4e-3,0.123456789012345678901\n5e-3,\u22121\n6e-3,1e-400\n"
                                     "7e-3,000000000000000000012\n");
    const auto& samples = recording.channels[0].samples;
    CHECK(samples[0] == 1.5);
    CHECK(samples[1] == -0.0015);
    CHECK(samples[2] == 0.5);
    CHECK(samples[3] == 2);
    CHECK(near(samples[4], 0.123456789012345678901, 1e-14)); // fifteen digits are kept
    CHECK(samples[5] == -1);
    CHECK(samples[6] == 0);
    CHECK(samples[7] == 12);
}

TEST_CASE("csv: lines end in LF, CRLF or CR, and separators at their end add nothing",
          "[core][capture]") {
    for (const std::string end : {"\n", "\r\n", "\r", ",\n", ",,,\r\n", " \n", "\n\n"}) {
        check_four(read("0,0.5" + end + "4e-6,-1.25" + end + "8e-6,2" + end + "12e-6,0"));
        check_four(read("0,0.5" + end + "4e-6,-1.25" + end + "8e-6,2" + end + "12e-6,0" + end));
    }
}

TEST_CASE("csv: UTF-8 with its mark, and UTF-16 with its mark, are read", "[core][capture]") {
    const std::string text = "Time (s),CH1 (V)\n0,0.5\n4e-6,-1.25\n8e-6,2\n12e-6,0\n";
    check_four(read("\xef\xbb\xbf" + text));
    check_four(read(utf16(text, true)));
    check_four(read(utf16(text, false)));
    CHECK(holds(refused(std::string("\0", 1) + text), "not a text file"));
}

TEST_CASE("csv: a quoted cell is read without its quotes", "[core][capture]") {
    const Recording recording =
        read("\"Time, s\",\"CH1, left\"\n\"0\",\"0.5\"\n \"4e-6\" , \"-1.25\" "
             "\n\"8e-6\",2\n12e-6,\"0\"\n");
    check_four(recording);
    CHECK(recording.channels[0].name == "CH1, left");
}

TEST_CASE("csv: a head of any kind is passed over", "[core][capture]") {
    const std::string data = "0,0.5\n4e-6,-1.25\n8e-6,2\n12e-6,0\n";
    for (const std::string head :
         {"Some scope\nFirmware,1.2.3\nDate,2031-04-05 12:30:00\nProbe,10,X\n\n",
          "# comment: 12, 13\n# another\n", "%\n%%\n", "Points,4\nVertical Scale,5.0E+00\nx,y\n",
          "TIME,CH1\n", "1\n", "a,b,c,d,e\nf\n\n\n"}) {
        check_four(read(head + data));
    }
}

TEST_CASE("csv: a unit in the heading scales its column", "[core][capture]") {
    struct Row {
        const char* heading;
        double step_s;
        double volt;
    };
    // Two samples, 2 apart in the first column, 3 in the second.
    const Row table[] = {
        {"Time (s),CH1 (V)", 2, 3},
        {"Time (ms),CH1 (mV)", 2e-3, 3e-3},
        {"Time [us],CH1 [kV]", 2e-6, 3e3},
        {"t/\u00b5s,U/V", 2e-6, 3},
        {"t in ns,U in uV", 2e-9, 3e-6},
        {"Time (\xb5s),Volt", 2e-6, 3},
        {"s,Volts", 2, 3},
        {"X,CH1\nms,mV", 2e-3, 3e-3},
        {"Time,Channel A\n(ms),(V)", 2e-3, 3},
        {"time_ms,ch1_mv", 2e-3, 3e-3},
        {"Second,Volt", 2, 3},
    };
    for (const Row& row : table) {
        INFO(row.heading);
        const Recording recording = read(std::string(row.heading) + "\n0,0\n2,3\n");
        CHECK(near(recording.step_s, row.step_s, 1e-12));
        CHECK(near(recording.channels[0].samples[1], row.volt, 1e-12));
        CHECK(recording.scale == SampleScale::volt);
    }
    const Recording bare = read("x,y\n0,0\n0.5,3\n");
    CHECK(bare.scale == SampleScale::unsaid);
    CHECK(mentions(bare, "taken as seconds"));
}

TEST_CASE("csv: a unit behind a number scales it", "[core][capture]") {
    const Recording recording = read("0 us;500 mV\n4 us;-1.25 V\n8us;2V\n0.012 ms;0\n");
    check_four(recording);
}

TEST_CASE("csv: what is not in volts is refused with its column", "[core][capture]") {
    CHECK(holds(refused("Time (s),CH1 (dB)\n0,1\n1,2\n"), "column 2"));
    CHECK(holds(refused("Time (s),CH1 [mA]\n0,1\n1,2\n"), "not in volts"));
}

TEST_CASE("csv: the time column is known by its heading, or as the first one that rises",
          "[core][capture]") {
    const Recording named = read("CH1 (V),Time (s)\n0.5,0\n-1.25,4e-6\n2,8e-6\n0,12e-6\n");
    check_four(named);
    check_four(read("0,0.5\n4e-6,-1.25\n8e-6,2\n12e-6,0\n"));
    const Recording two = read("0.5,1\n-1.25,2\n2,1\n0,0\n");
    CHECK(two.channels.size() == 2);
    CHECK_FALSE(two.timed);
    CHECK(holds(refused("0.5,1,2\n-1.25,2,3\n2,1,4\n0,0,5\n"), "a time column was expected"));
    CHECK(holds(refused("Time (s)\n0\n1\n2\n"), "samples were expected"));
}

TEST_CASE("csv: counted samples and a single column take the time between them from the head",
          "[core][capture]") {
    struct Row {
        const char* head;
        double step_s;
    };
    const Row table[] = {
        {"Sample Interval,4.0E-06,s", 4e-6},
        {"Sampling Period,4.00us", 4e-6},
        {"# Sample rate: 250 kHz", 4e-6},
        {"Sample Rate = 250000", 4e-6},
        {"dt=4e-6", 4e-6},
        {"Sampling Rate,250kSa/s", 4e-6},
        {"Sample Rate,0.25 MS/s", 4e-6},
        {"Sample rate,250k", 4e-6},
        {"Increment,4u", 4e-6},
        {"Sample Interval (us),4", 4e-6},
        {"Interval: 250 kHz", 4e-6},
        {"XINCR,4e-6", 4e-6},
    };
    for (const Row& row : table) {
        INFO(row.head);
        check_four(read(std::string(row.head) + "\nCH1 (V)\n0.5\n-1.25\n2\n0\n"));
        check_four(read(std::string(row.head) + "\nIndex,CH1 (V)\n0,0.5\n1,-1.25\n2,2\n3,0\n"));
    }
    // The step in the line below its heading.
    check_four(read("X,CH1,Start,Increment\nSequence,Volt,-1e-3,4e-6\n0,0.5,,\n1,-1.25,,\n2,2,,\n"
                    "3,0,,\n"));
    const Recording none = read("CH1 (V)\n0.5\n-1.25\n2\n0\n");
    CHECK_FALSE(none.timed);
    CHECK(none.step_s == 1);
    CHECK_FALSE(read("0,0.5\n1,-1.25\n2,2\n3,0\n").timed);
    CHECK(read("Time,CH1\n0,0.5\n1,-1.25\n2,2\n3,0\n").timed); // seconds, by its heading
}

TEST_CASE("csv: a head that stands beside the samples is read too", "[core][capture]") {
    const Recording recording =
        read("Record Length,4,,0.000000,0.5\nSample Interval,4e-6,,0.000004,-1.25\n"
             "Vertical Units,V,,0.000008,2\nHorizontal Units,s,,0.000012,0\n"
             ",,,0.000016,0\n,,,0.000020,0\n,,,0.000024,0\n,,,0.000028,0\n,,,0.000032,0\n");
    REQUIRE(recording.channels.size() == 1);
    CHECK(recording.size() == 9);
    CHECK(near(recording.step_s, 4e-6, 1e-9));
    CHECK(recording.scale == SampleScale::volt);
    CHECK(recording.channels[0].samples[1] == -1.25);
}

TEST_CASE("csv: times with too few digits to rise evenly are even all the same",
          "[core][capture]") {
    // 4 µs apart, printed to 10 µs.
    std::string text = "Time (s),CH1 (V)\n";
    for (int i = 0; i < 100; ++i) {
        text += fmt::format("{:.5f},{}\n", i * 4e-6, i % 7);
    }
    const Recording recording = read(text);
    CHECK(recording.times_s.empty());
    CHECK(near(recording.step_s, 4e-6, 0.03)); // one digit over the whole length
}

TEST_CASE("csv: uneven times are kept", "[core][capture]") {
    const Recording recording = read("Time (ms),CH1 (V)\n0.00,0\n1.00,1\n3.00,2\n3.50,1\n6.25,0\n");
    REQUIRE(recording.times_s.size() == 5);
    CHECK(near(recording.times_s[3], 3.5e-3, 1e-12));
    CHECK(mentions(recording, "not evenly spaced"));
}

TEST_CASE("csv: times that go back are refused with line and column", "[core][capture]") {
    std::string text = "Time (s),CH1 (V)\n" + rows(20) + rows(20);
    const std::string message = refused(text);
    CHECK(holds(message, "column 1"));
    CHECK(holds(message, "sample 21"));
    CHECK(holds(message, "line 22"));
    CHECK(holds(message, "rising times were expected"));
    CHECK(holds(refused("Time (s),CH1 (V)\n0,1\n,2\n2,1\n"), "a time was expected"));
}

TEST_CASE("csv: words for no reading and for overload are not samples", "[core][capture]") {
    const Recording recording =
        read("Time (s),CH1 (V)\n0,5\n1e-3,OL\n2e-3,\n3e-3,no signal\n4e-3,-5\n5e-3,OL\n6e-3,inf\n"
             "7e-3,-inf\n8e-3,NaN\n9e-3,---\n10e-3,9.9E37\n11e-3,9.91e37\n12e-3,-9.9e37\n13e-3,1\n"
             "14e-3,overload\n");
    const CaptureChannel& channel = recording.channels[0];
    REQUIRE(channel.samples.size() == 15);
    int readings = 0;
    for (const double v : channel.samples) {
        readings += std::isfinite(v) ? 1 : 0;
    }
    CHECK(readings == 3);
    CHECK(channel.samples[13] == 1);
    // An overload without a sign is on the side of the reading before it.
    CHECK(channel.over_high == 2); // after 5, after 1
    CHECK(channel.over_low == 5);  // after −5 three times unsigned, and twice with its sign
    CHECK(holds(refused("Time (s),CH1 (V)\n0,\n1,\n2,\n"), "right.csv"));
}

TEST_CASE("csv: text after the samples is left out, text between them is refused",
          "[core][capture]") {
    const std::string text = "Time (s),CH1 (V)\n" + rows(20);
    const Recording recording = read(text + "END\nsaved by hand\n");
    CHECK(recording.size() == 20);
    CHECK(mentions(recording, "after the samples"));
    const std::string message = refused(text + "0.020,1.0e\n" + "0.021,1\n");
    CHECK(holds(message, "line 22, column 2: \"1.0e\" is not a number"));
    CHECK(holds(refused(text + "Time (s),CH2 (V)\n" + rows(20)), "line 22, column 1"));
}

TEST_CASE("csv: a few rows of numbers above a line of text belong to the head", "[core][capture]") {
    const Recording recording = read("1,2\n3,4\nTime (s),CH1 (V)\n" + rows(20));
    CHECK(recording.size() == 20);
    CHECK(mentions(recording, "below line 3"));
}

TEST_CASE("csv: a second time column repeats the first and is passed over", "[core][capture]") {
    const Recording recording =
        read("Time (s),CH1 (V),Time (s),CH2 (V)\n0,1,0,2\n1e-3,2,1e-3,4\n2e-3,1,2e-3,2\n");
    REQUIRE(recording.channels.size() == 2);
    CHECK(recording.channels[1].samples[1] == 4);
    CHECK(recording.channels[1].name == "CH2 (V)");
}

TEST_CASE("csv: four channels are kept, more are said to be left out", "[core][capture]") {
    const Recording recording =
        read("t,a,b,c,d,e,f\n0,1,2,3,4,5,6\n1e-3,1,2,3,4,5,6\n2e-3,2,2,3,4,5,6\n");
    CHECK(recording.channels.size() == k_most_channels);
    CHECK(mentions(recording, "first 4 channels"));
}

TEST_CASE("csv: no more samples are kept than the bound, whatever the file holds",
          "[core][capture][.slow]") {
    std::string text;
    for (std::size_t i = 0; i < k_most_samples + 1000; ++i) {
        text += i % 2 ? "1\n" : "0\n";
    }
    const Recording recording = read(text);
    CHECK(recording.size() == k_most_samples);
    CHECK(mentions(recording, "Only the first 4000000"));
}

TEST_CASE("csv: what is no table of samples is refused with line, column and what was expected",
          "[core][capture]") {
    CHECK(holds(refused("Dear technician,\nplease find enclosed\n"),
                "line 1, column 1: \"Dear technician\" is not a number; rows of a time and one or "
                "two voltages were expected."));
    CHECK(holds(refused("\n\n\n"), "were expected"));
    CHECK(holds(refused("time,volt\n12:30:01.5,0.5\n12:30:01.6,0.7\n"), "time"));
    CHECK(holds(refused("1,2\n"), "two or more were expected"));
    CHECK(holds(refused("0,001,1,25\n0,002,1,27\n0,003,1,30\n"), "time column was expected"));
    CHECK(holds(refused("0;1.000,5\n1;1.000,6\n"), "were expected"));
    CHECK(holds(refused("Time (s),V\n0,1\n1e9,2\n"), "time column was expected"));
}

TEST_CASE("csv: a wave comes back from every dialect as it went", "[core][capture]") {
    CHECK(rc::check("dialects", [] {
        const auto separator = *rc::gen::element<std::string>(",", ";", "\t", " ", "|");
        const bool comma = separator != "," && *rc::gen::arbitrary<bool>();
        const auto end = *rc::gen::element<std::string>("\n", "\r\n", "\r");
        const auto head = *rc::gen::element<std::string>("", "Time (s)%CH1 (V)\n", "a\nb 2\n\n",
                                                         "#x\nTime%CH1\ns%V\n");
        const bool scientific = *rc::gen::arbitrary<bool>();
        signals::Wave wave;
        wave.count = static_cast<std::size_t>(*rc::gen::inRange(2, 300));
        wave.amplitude = std::pow(10, *rc::gen::inRange(-3, 3));
        wave.phase = *rc::gen::inRange(0, 628) / 100.0;
        wave.rate_hz = std::pow(10, *rc::gen::inRange(3, 9));
        wave.frequency_hz = wave.rate_hz / 50;
        const auto samples = signals::samples_of(wave);
        std::string text = head;
        for (std::size_t i = 0; i < samples.size(); ++i) {
            const double time = static_cast<double>(i) / wave.rate_hz;
            std::string row = scientific ? fmt::format("{:.12e}%{:.12e}", time, samples[i])
                                         : fmt::format("{:.15f}%{:.15f}", time, samples[i]);
            if (comma) {
                std::replace(row.begin(), row.end(), '.', ',');
            }
            text += row + '\n';
        }
        std::string written;
        for (const char c : text) {
            written += c == '%' ? separator : c == '\n' ? end : std::string(1, c);
        }
        const auto recording = read_csv(written, "x");
        RC_ASSERT(recording.ok());
        RC_ASSERT(recording->channels.size() == 1U);
        RC_ASSERT(recording->size() == samples.size());
        RC_ASSERT(recording->times_s.empty());
        RC_ASSERT(near(recording->step_s, 1 / wave.rate_hz, 1e-6));
        for (std::size_t i = 0; i < samples.size(); ++i) {
            RC_ASSERT(near_abs(recording->channels[0].samples[i], samples[i],
                               1e-12 * wave.amplitude + 1e-15));
        }
    }));
}

TEST_CASE("csv: whatever is done to a file, it is read or refused in a sentence",
          "[core][capture]") {
    const std::string whole = "Sample interval,4e-6,s\nTime (s),CH1 (V)\n" + rows(30);
    CHECK(rc::check("broken files", [&whole] {
        std::string text = whole;
        const int cuts = *rc::gen::inRange(1, 6);
        for (int i = 0; i < cuts && !text.empty(); ++i) {
            const auto at =
                static_cast<std::size_t>(*rc::gen::inRange<int>(0, static_cast<int>(text.size())));
            switch (*rc::gen::inRange(0, 4)) {
            case 0:
                text[at] = *rc::gen::arbitrary<char>();
                break;
            case 1:
                text.erase(at, static_cast<std::size_t>(*rc::gen::inRange(1, 40)));
                break;
            case 2:
                text.insert(at, text.substr(at / 2, 30));
                break;
            default:
                text.insert(at, *rc::gen::element<std::string>("\n", ",", ";", "\"", "e", "-",
                                                               "9e999", "\r", "nan"));
            }
        }
        const auto recording = read_csv(text, "x");
        if (!recording) {
            RC_ASSERT(recording.error().message.ends_with('.'));
            return;
        }
        RC_ASSERT(!recording->channels.empty());
        for (const CaptureChannel& channel : recording->channels) {
            RC_ASSERT(channel.samples.size() == recording->size());
        }
        RC_ASSERT(recording->step_s > 0);
        RC_ASSERT(recording->times_s.empty() || recording->times_s.size() == recording->size());
    }));
}
