// Feeds a fuzz target its seeds and a fixed number of changed copies of them, the same ones on
// every machine: replay SEED_FOLDER COUNT. What is wrong shows as a crash, a trap or a sanitizer's
// report. With RAILSIDE_KEEP_LAST set each input is first written to the program.s name with .last.
#include <algorithm>
#include <array>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

constexpr std::size_t k_most_bytes = 1U << 16U; // longer seeds are run, not changed

/// A copy of `seed` with one to eight changes; pieces come from `other`.
std::string changed(const std::string& seed, const std::string& other, std::mt19937_64& random) {
    const auto below = [&random](std::size_t end) {
        return end == 0 ? 0 : static_cast<std::size_t>(random() % end);
    };
    // Bytes on which readers turn.
    constexpr std::array<char, 16> k_marks = {'\0', '\n', '\r', ' ', '=', '(', ')',    '{',
                                              '}',  '\'', '"',  ',', '+', '-', '\xff', '9'};
    std::string text = seed;
    for (std::size_t left = 1 + below(8); left > 0; --left) {
        const std::size_t at = below(text.size() + 1);
        switch (below(6)) {
        case 0: // a bit turned
            if (at < text.size()) {
                text[at] = static_cast<char>(text[at] ^ (1U << below(8)));
            }
            break;
        case 1: // a piece gone
            text.erase(at, 1 + below(16));
            break;
        case 2: // a mark in between
            text.insert(at, 1, k_marks[below(k_marks.size())]);
            break;
        case 3: // a piece twice
            text.insert(below(text.size() + 1), text.substr(at, 1 + below(32)));
            break;
        case 4: // a piece of another seed
            text.insert(at, other.substr(below(other.size() + 1), 1 + below(64)));
            break;
        default: // cut short
            if (below(4) == 0) {
                text.resize(at);
            }
            break;
        }
    }
    return text;
}

void run(const std::string& text) {
    // An array of just that size, so that a sanitizer sees one byte too far.
    const std::vector<std::uint8_t> bytes(text.begin(), text.end());
    LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
}

} // namespace

int main(int count, char** words) {
    if (count != 3) {
        std::fprintf(stderr, "usage: %s SEED_FOLDER COUNT\n", words[0]);
        return 2;
    }
    std::error_code error;
    std::vector<std::filesystem::path> files;
    for (const auto& entry : std::filesystem::directory_iterator(words[1], error)) {
        if (entry.is_regular_file()) {
            files.push_back(entry.path());
        }
    }
    if (files.empty()) {
        std::fprintf(stderr, "no seeds in %s\n", words[1]);
        return 1;
    }
    std::sort(files.begin(), files.end());
    std::vector<std::string> seeds;
    for (const auto& file : files) {
        std::ifstream stream(file, std::ios::binary);
        seeds.emplace_back(std::istreambuf_iterator<char>(stream),
                           std::istreambuf_iterator<char>());
        run(seeds.back());
    }
    run({});
    std::vector<const std::string*> short_seeds;
    for (const std::string& seed : seeds) {
        if (seed.size() <= k_most_bytes) {
            short_seeds.push_back(&seed);
        }
    }
    const long changes = short_seeds.empty() ? 0 : std::strtol(words[2], nullptr, 10);
    const std::string last = std::string(words[0]) + ".last";
    const bool keep = std::getenv("RAILSIDE_KEEP_LAST") != nullptr;
    for (long i = 0; i < changes; ++i) {
        std::mt19937_64 random(static_cast<std::uint64_t>(i));
        const std::size_t one = static_cast<std::size_t>(i) % short_seeds.size();
        const std::string text =
            changed(*short_seeds[one], *short_seeds[random() % short_seeds.size()], random);
        if (keep) {
            std::ofstream(last, std::ios::binary) << text;
        }
        run(text);
    }
    std::printf("%zu seeds and %ld changed copies\n", seeds.size(), changes);
    return 0;
}
