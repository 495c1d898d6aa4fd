#include "core/words/words.h"

#include "support/catch.h"

using namespace railside;

namespace {

Result<Catalogue> read(std::string_view po) { return Catalogue::read(po, "words.po"); }

/// English again when a test ends.
struct Spoken {
    explicit Spoken(std::string_view po) {
        auto catalogue = read(po);
        REQUIRE(catalogue.ok());
        set_catalogue(std::make_shared<const Catalogue>(std::move(catalogue).value()));
    }
    Spoken(const Spoken&) = delete;
    Spoken& operator=(const Spoken&) = delete;
    ~Spoken() { set_catalogue(nullptr); }
};

} // namespace

TEST_CASE("words: without a catalogue English is spoken", "[core][words]") {
    CHECK(words("in window") == "in window");
    CHECK(worded("{} of {} steps", 4, 11) == "4 of 11 steps");
    CHECK(worded("{:.2f}\u2009V {}", 1.5, std::string("here")) == "1.50\u2009V here");
}

TEST_CASE("words: a catalogue's words stand in the place of English ones", "[core][words]") {
    const Spoken spoken("# a remark\n"
                        "msgid \"\"\n"
                        "msgstr \"Content-Type: text/plain; charset=UTF-8\\n\"\n"
                        "\n"
                        "#: app/rooms/some.cpp\n"
                        "msgid \"in window\"\n"
                        "msgstr \"im Fenster\"\n"
                        "\n"
                        "msgid \"\"\n"
                        "\"{} of {} \"\n"
                        "\"steps\"\n"
                        "msgstr \"von {1} Schritten {0}\"\n"
                        "\n"
                        "#, fuzzy\n"
                        "msgid \"Money\"\n"
                        "msgstr \"Gelt\"\n"
                        "\n"
                        "msgid \"Photos\"\n"
                        "msgstr \"\"\n");
    CHECK(words("in window") == "im Fenster");
    CHECK(worded("{} of {} steps", 4, 11) == "von 11 Schritten 4");
    // A word put into a sentence is spoken too; what somebody typed is not.
    CHECK(worded("{} / {}", "in window", std::string("in window")) == "im Fenster / in window");
    // Not sure, not translated, not known: English.
    CHECK(words("Money") == "Money");
    CHECK(words("Photos") == "Photos");
    CHECK(words("Steps") == "Steps");
    CHECK(words("") == "");
}

TEST_CASE("words: a translation keeps the places of its English", "[core][words]") {
    const auto with = [](std::string_view english, std::string_view other) {
        return read(fmt::format("msgid \"{}\"\nmsgstr \"{}\"\n", english, other)).ok();
    };
    CHECK(with("{} of {:.1f}", "{} z {:.1f}"));
    CHECK(with("{} of {:.1f}", "{1:.1f} {0}"));
    CHECK(with("{} of {:.1f}", "{0} {1:.1f} {0}"));
    CHECK_FALSE(with("{} of {:.1f}", "{:.1f} z {}"));
    CHECK_FALSE(with("{} of {}", "{}"));
    CHECK_FALSE(with("{} of {}", "{} {} {}"));
    CHECK_FALSE(with("{} of {}", "{} {"));
    CHECK_FALSE(with("{} of {}", "{} {0}"));
    CHECK_FALSE(with("{}", "{2}"));
    CHECK_FALSE(with("{}", "{name}"));
    CHECK(with("100 % {{}}", "{{}} 100 %"));
}

TEST_CASE("words: what is no PO is refused with its line", "[core][words]") {
    for (const auto& [text, line] :
         {std::pair<std::string, std::string>{"hello\n", "line 1"},
          {"msgid \"a\"\nmsgstr \"b\n", "line 2"},
          {"msgid \"a\"\nmsgstr \"b\"\n\nmsgid \"{} c\"\nmsgstr \"d\"\n", "line 4"},
          {"msgid \"a\\q\"\n", "line 1"}}) {
        INFO(text);
        const auto refused = read(text);
        REQUIRE_FALSE(refused.ok());
        CHECK(refused.error().message.find("words.po") != std::string::npos);
        CHECK(refused.error().message.find(line) != std::string::npos);
    }
    CHECK_FALSE(read(std::string(4'000'001, ' ')).ok());
    CHECK(read("").ok());
}
