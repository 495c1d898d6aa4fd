#include "core/device/parts.h"

#include "support/catch.h"

#include <rapidcheck.h>

#include <set>
#include <string>

using namespace railside;

namespace {

const std::string k_head = "type\tpolarity\tv_ceo\ti_c\tgroups\tsafe_area\tleads\tnotes\tsource\n";

PartsTable read(const std::string& text) {
    auto table = read_parts_table(text, "mine.tsv");
    INFO((table.ok() ? "" : table.error().message));
    REQUIRE(table.ok());
    return std::move(table).value();
}

/// The one sentence about a row that was left out.
std::string left_out(const std::string& text) {
    const PartsTable table = read(text);
    REQUIRE(table.left_out.size() == 1);
    return table.left_out.front();
}

bool holds(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

const Part& part(std::string_view type) {
    const auto found = find_part(builtin_parts(), type);
    INFO(type);
    REQUIRE(found.has_value());
    return *found->part;
}

bool warns(std::string_view type, std::string_view of) {
    for (const std::string& key : part(type).notes) {
        if (holds(note_of(builtin_parts(), key), of)) {
            return true;
        }
    }
    return false;
}

std::string lead_order(std::string_view type) { return part(type).leads; }

} // namespace

TEST_CASE("parts: the worked example reads as it is meant", "[core][device]") {
    const PartsTable table =
        read("# of this bench\n"
             "note\tturned\tThis lot has its leads the other way round.\n"
             "type\tpolarity\tv_ceo\ti_c\tp_d\thfe_min\thfe_max\thfe_at\tgroups\tsafe_area\t"
             "package\tleads\tcomplement\tnotes\tsource\n"
             "2SX100\tnpn\t140\t12\t100\t60\t200\t1\tO:60-120 Y:100-200\t40:2.5 80:500m\tTO-3P\t"
             "BCE\t2SX200\tturned\tmeasured here\n");
    CHECK(table.left_out.empty());
    REQUIRE(table.parts.size() == 1);
    const Part& held = table.parts.front();
    CHECK(held.type == "2SX100");
    CHECK(held.polarity == Polarity::npn);
    CHECK(held.ceo_v == 140);
    CHECK(held.collector_a == 12);
    CHECK(held.power_w == 100);
    CHECK(held.power_at == PowerAt::case_25);
    CHECK(held.gain_a == 1);
    CHECK(held.groups == std::vector<GainGroup>{{"O", 60, 120}, {"Y", 100, 200}});
    CHECK(held.safe == std::vector<SafePoint>{{40, 2.5}, {80, 0.5}});
    CHECK(held.leads == "BCE");
    CHECK(note_of(table, held.notes.at(0)) == "This lot has its leads the other way round.");
}

TEST_CASE("parts: an empty cell is unknown", "[core][device]") {
    const PartsTable table = read(k_head + "MJ1\tnpn\t\t\t\t\t\t\tsheet\n2N1\tpnp\n");
    REQUIRE(table.parts.size() == 1); // the second has no source
    CHECK_FALSE(table.parts[0].ceo_v);
    CHECK_FALSE(table.parts[0].collector_a);
    CHECK(table.parts[0].leads.empty());
    CHECK(table.parts[0].insulated == Insulation::unknown);
}

TEST_CASE("parts: a row that does not fit is left out whole, by line and column",
          "[core][device]") {
    struct Row {
        const char* cells;
        const char* said;
    };
    const Row rows[] = {
        {"\tnpn\t\t\t\t\t\t\ts", "type \"\" is empty"},
        {"MJ1\t\t\t\t\t\t\t\ts", "polarity \"\" is empty"},
        {"MJ1\tnpn\t\t\t\t\t\t\t", "source \"\" is empty"},
        {"ABC\tnpn\t\t\t\t\t\t\ts", "type \"ABC\" is no type number"},
        {"MJ1\tNPN\t\t\t\t\t\t\ts", "polarity \"NPN\" is none of npn, pnp"},
        {"MJ1\tnpn\tmuch\t\t\t\t\t\ts", "v_ceo \"much\" is not a value"},
        {"MJ1\tnpn\t14000\t\t\t\t\t\ts", "v_ceo \"14000\" lies outside 1\u2009V to 2\u2009kV"},
        {"MJ1\tnpn\t-140\t\t\t\t\t\ts", "v_ceo \"-140\" lies outside"},
        {"MJ1\tnpn\t140 A\t\t\t\t\t\ts", "v_ceo \"140 A\" is not a value"},
        {"MJ1\tnpn\t\t\tO60\t\t\t\ts", "groups \"O60\" is not of the form MARK:LOW-HIGH"},
        {"MJ1\tnpn\t\t\tO:120-60\t\t\t\ts", "has group O the wrong way round"},
        {"MJ1\tnpn\t\t\tO:1-2 o:2-3\t\t\t\ts", "has group o twice"},
        {"MJ1\tnpn\t\t\t\t40\t\t\ts", "safe_area \"40\" is not of the form"},
        {"MJ1\tnpn\t\t\t\t40:1 30:2\t\t\ts", "does not rise in volts"},
        {"MJ1\tnpn\t60\t\t\t80:1\t\t\ts", "safe_area \"80:1\" goes past v_ceo"},
        {"MJ1\tnpn\t\t\t\t\tCBB\t\ts", "leads \"CBB\" is not B, C and E"},
        {"MJ1\tnpn\t\t\t\t\t\tlost\ts", "notes \"lost\" names no note"},
        {"MJ1\tnpn\t\t\t\t\t\t\ts\tmore", "it has 10 cells under 9 columns"},
        {"MJ1\tnpn\t\t\t\t\t\t\t25 \xC2\xB0"
         "C",
         "outside plain ASCII"},
    };
    for (const Row& row : rows) {
        const std::string said =
            left_out(k_head + "2N1\tnpn\t\t\t\t\t\t\tsheet\n" + row.cells + "\n");
        INFO(said);
        CHECK(said.starts_with("mine.tsv, line 3: "));
        CHECK(holds(said, row.said));
        CHECK(said.ends_with("left out."));
    }
    // The good row before it stays.
    CHECK(read(k_head + "2N1\tnpn\t\t\t\t\t\t\tsheet\nMJ1\tnpn\tmuch\n").parts.size() == 1);
}

TEST_CASE("parts: a collector-base rating under the collector-emitter one is refused",
          "[core][device]") {
    CHECK(holds(left_out("type\tpolarity\tv_ceo\tv_cbo\tsource\nMJ1\tnpn\t140\t100\ts\n"),
                "v_cbo \"100\" is less than v_ceo"));
    CHECK(holds(left_out("type\tpolarity\thfe_min\thfe_max\tsource\nMJ1\tnpn\t140\t100\ts\n"),
                "hfe_max \"100\" is less than hfe_min"));
}

TEST_CASE("parts: the same type twice keeps the first", "[core][device]") {
    const std::string said = left_out(k_head + "2SC100\tnpn\t10\t\t\t\t\t\ts\n"
                                               "C100\tnpn\t20\t\t\t\t\t\ts\n");
    CHECK(holds(said, "type \"C100\" was given already"));
}

TEST_CASE("parts: a table without its heading is refused", "[core][device]") {
    struct Row {
        const char* text;
        const char* said;
    };
    const Row rows[] = {
        {"", "has no heading"},
        {"# nothing\n", "has no heading"},
        {"type\tpolarity\n", "has no column \"source\""},
        {"type\tsource\n", "has no column \"polarity\""},
        {"type\tpolarity\tsource\ttype\n", "names the column \"type\" twice"},
        {"t\xFFype\tpolarity\tsource\n", "is not plain ASCII"},
    };
    for (const Row& row : rows) {
        const auto table = read_parts_table(row.text, "mine.tsv");
        REQUIRE_FALSE(table.ok());
        CHECK(table.error().code == ErrorCode::bad_text);
        INFO(table.error().message);
        CHECK(holds(table.error().message, row.said));
    }
    CHECK_FALSE(read_parts_table(std::string(1'000'001, '#'), "mine.tsv").ok());
}

TEST_CASE("parts: a column that is not known is passed over and named", "[core][device]") {
    const PartsTable table = read("type\tpolarity\tcolour\tsource\r\nMJ1\tnpn\tblack\tsheet\r\n");
    CHECK(table.parts.size() == 1);
    REQUIRE(table.left_out.size() == 1);
    CHECK(holds(table.left_out[0], "line 1: the column \"colour\" is not known here"));
}

TEST_CASE("parts: a note is a key and a sentence, once", "[core][device]") {
    CHECK(holds(left_out("note\talone\n" + k_head), "line 1: a note is a key and a sentence"));
    CHECK(
        holds(left_out("note\ta\tOne.\nnote\ta\tTwo.\n" + k_head), "line 2: the note a was given"));
    CHECK(note_of(read("note\ta\tOne.\n" + k_head), "a") == "One.");
    CHECK(note_of(read(k_head), "a").empty());
}

TEST_CASE("parts: no text upsets the reader", "[core][device]") {
    CHECK(rc::check([] {
        std::string text = *rc::gen::string<std::string>();
        if (*rc::gen::inRange(0, 2) == 0) {
            text = k_head + text;
        }
        const auto table = read_parts_table(text, text);
        if (table) {
            for (const Part& each : table->parts) {
                RC_ASSERT(!each.type.empty());
                RC_ASSERT(!each.source.empty());
            }
        } else {
            RC_ASSERT(table.error().message.ends_with('.'));
        }
        (void)find_part(builtin_parts(), text);
    }));
}

TEST_CASE("parts: the table in the program is read without a word left out", "[core][device]") {
    const PartsTable& table = builtin_parts();
    CHECK(table.parts.size() >= 150);
    for (const std::string& sentence : table.left_out) {
        FAIL_CHECK(sentence);
    }
    std::set<std::string> used;
    for (const Part& each : table.parts) {
        INFO(each.type);
        CHECK(find_part(table, each.type)->part == &each);
        CHECK(find_part(table, each.type)->rest.empty());
        const bool says_something =
            !each.package.empty() || !each.groups.empty() || each.ceo_v || each.power_w;
        CHECK(says_something);
        if (!each.package.empty()) {
            CHECK(mount_of(each.package) != Mount::unknown);
        }
        used.insert(each.notes.begin(), each.notes.end());
        if (!each.complement.empty()) {
            const auto other = find_part(table, each.complement);
            if (other) {
                CHECK(same_type(other->part->complement, each.type));
                CHECK(other->part->polarity != each.polarity);
            }
        }
        if (each.gain_low && each.gain_high && !each.groups.empty()) {
            for (const GainGroup& group : each.groups) {
                INFO(group.mark);
                CHECK(group.high <= *each.gain_high * 1.001);
            }
        }
        for (const char* hidden : {"/work", "/tmp", "http", "debian", "npm"}) {
            CHECK_FALSE(holds(each.source, hidden));
        }
    }
    for (const auto& [key, sentence] : table.notes) {
        INFO(key);
        CHECK(used.contains(key));
        CHECK(sentence.ends_with('.'));
    }
}

TEST_CASE("parts: polarity is that of the sheets, not of odd and even numbers", "[core][device]") {
    // onsemi and Motorola sheets MJ15003/D, MJ15022/D, MJ21193/D, MJL21193/D; Toshiba 2SA1943.
    for (const char* type :
         {"MJ15003", "MJ15022", "MJ15024", "MJ21194", "MJL21194", "2SC5200", "2N3055", "BD249"}) {
        INFO(type);
        CHECK(part(type).polarity == Polarity::npn);
    }
    for (const char* type :
         {"MJ15004", "MJ15023", "MJ15025", "MJ21193", "MJL21193", "2SA1943", "MJ2955", "BD250"}) {
        INFO(type);
        CHECK(part(type).polarity == Polarity::pnp);
    }
    CHECK(warns("MJ21193", "polarity"));
}

TEST_CASE("parts: volts are those with the base open", "[core][device]") {
    struct Row {
        const char* type;
        double volts;
    };
    // BD249 family: Bourns, MOSPEC; BD237/238: ST, onsemi; TIP3055, 2N3055: ST, onsemi; 2N555x,
    // 2N3904, MJ15022 to 25, MJ2119x: onsemi; BC546/556: Fairchild; BC639: Siemens; BD139: ST;
    // 2SD1047: Sanyo. Exact.
    const Row rows[] = {
        {"BD249", 45},     {"BD249A", 60},    {"BD249B", 80},   {"BD249C", 100},  {"BD250", 45},
        {"BD250C", 100},   {"BD237", 80},     {"BD238", 80},    {"TIP3055", 60},  {"TIP2955", 60},
        {"2N3055", 60},    {"MJ2955", 60},    {"2N5551", 160},  {"2N5550", 140},  {"2N3904", 40},
        {"BC546", 65},     {"BC556", 65},     {"MJ15024", 250}, {"MJ15022", 200}, {"MJ21193", 250},
        {"MJL21194", 250}, {"BC639", 80},     {"BC640", 80},    {"BD139", 80},    {"BD140", 80},
        {"2SD1047", 140},  {"MJL3281A", 260}, {"2N2219", 30},   {"BC107", 45},    {"TIP31", 40},
        {"TIP31A", 60},    {"TIP41B", 80},    {"TIP41C", 100},  {"BDW93", 45},    {"TIP120", 60},
        {"TIP121", 80},    {"TIP122", 100},   {"TIP140", 60},   {"TIP142", 100},  {"2SC5200", 230},
    };
    for (const Row& row : rows) {
        INFO(row.type);
        CHECK(part(row.type).type == row.type);
        CHECK(part(row.type).ceo_v == row.volts);
    }
    CHECK(part("MJ15024").cbo_v == 400);
    CHECK(part("MJ15022").cbo_v == 350);
    CHECK(part("2N5551").cbo_v == 180);
    CHECK(part("2N3055").cbo_v == 100);
    CHECK(part("2SD1047").cbo_v == 160);
    CHECK(warns("BD249", "V_CEO"));
    CHECK(warns("TIP3055", "V_CEO is 60 V"));
    CHECK(part("MJE340").ebo_v == 3); // onsemi
    CHECK(warns("MJE340", "3 V"));
}

TEST_CASE("parts: lead orders are those of the sheets", "[core][device]") {
    struct Row {
        const char* type;
        const char* leads;
    };
    // onsemi case 29 style 1, kicad-symbols, Fairchild, Siemens, Central; case 1-07 style 1.
    const Row rows[] = {
        {"BC547", "CBE"},  {"BC337", "CBE"},  {"BC557", "CBE"},   {"2N3904", "EBC"},
        {"2N5551", "EBC"}, {"MPSA42", "EBC"}, {"2SA1015", "ECB"}, {"2SC1815", "ECB"},
        {"BC635", "ECB"},  {"BC636", "ECB"},  {"BC639", "ECB"},   {"BC640", "ECB"},
        {"BD135", "ECB"},  {"BD139", "ECB"},  {"BD233", "ECB"},   {"MJE13003", "BCE"},
        {"BF199", "CEB"},  {"TIP41C", "BCE"}, {"TIP3055", "BCE"}, {"MJL3281A", "BCE"},
        {"2N3055", "BE"},  {"MJ15003", "BE"}, {"2SD1047", "BCE"},
    };
    for (const Row& row : rows) {
        INFO(row.type);
        CHECK(lead_order(row.type) == row.leads);
    }
    CHECK(warns("BC639", "E C B"));
    CHECK(leads_text(part("2N3055")) == "B E, case C");
    CHECK(leads_text(part("BC547")) == "C B E");
    CHECK(leads_text(part("BC107")) == "E B C, leads towards you, clockwise from the tab");
}

TEST_CASE("parts: lead orders are compared end to end", "[core][device]") {
    CHECK(compare_leads(part("BC547"), part("BC337")) == LeadOrder::same);
    CHECK(compare_leads(part("BC547"), part("2N5551")) == LeadOrder::mirrored);
    CHECK(compare_leads(part("BC547"), part("2SC1815")) == LeadOrder::different);
    CHECK(compare_leads(part("2N3055"), part("TIP3055")) == LeadOrder::different);
    CHECK(compare_leads(part("BC107"), part("2N3904")) == LeadOrder::different); // ring and row
    Part unknown;
    CHECK(compare_leads(part("BC547"), unknown) == LeadOrder::unknown);
    CHECK(leads_text(unknown) == "not known");
}

TEST_CASE("parts: a gain letter means what that type's sheet says", "[core][device]") {
    struct Row {
        const char* typed;
        double low, high;
    };
    // Sanken 2SA1216, 2SA1186, 2SA1303; Toshiba 2SC1815, 2SA1943, 2SA1941; Fairchild BC547; MCC
    // BD139; onsemi BC327. Exact.
    const Row rows[] = {
        {"2SA1216-O", 30, 60},    {"2SA1186-O", 50, 100}, {"2SA1303O", 50, 100},
        {"2SC1815-O", 70, 140},   {"2SA1943-O", 80, 160}, {"2SA1941-O", 80, 160},
        {"2SA1216-Y", 50, 100},   {"2SA1186Y", 90, 180},  {"2SC1815-Y", 120, 240},
        {"2SA1186-P", 70, 140},   {"2SA1216G", 90, 180},  {"2SC1815BL", 350, 700},
        {"2SC1815-GR", 200, 400}, {"BC547A", 110, 220},   {"BC547B", 200, 450},
        {"BC547C", 420, 800},     {"BC327-16", 100, 250}, {"BC337-40", 250, 630},
        {"BD139-6", 40, 100},     {"BD139-10", 63, 160},  {"BD139-16", 100, 250},
    };
    for (const Row& row : rows) {
        INFO(row.typed);
        const auto found = find_part(builtin_parts(), row.typed);
        REQUIRE(found.has_value());
        REQUIRE(found->group.has_value());
        CHECK(found->rest_is_known);
        const GainWindow window = gain_window(*found->part, found->group);
        CHECK(window.low == row.low);
        CHECK(window.high == row.high);
    }
    CHECK(gain_window(part("2SA1216"), std::nullopt).low == 30);
    CHECK(part("2SA1015").gain_high == 400);
    CHECK(part("2SC1815").gain_high == 700);
    CHECK(warns("2SC1815", "gain groups"));
}

TEST_CASE("parts: a type is found by what is printed on the body", "[core][device]") {
    struct Row {
        const char* typed;
        const char* type;
        const char* rest;
        bool known;
    };
    const Row rows[] = {
        {"2sc5200", "2SC5200", "", true},    {"C5200", "2SC5200", "", true},
        {"SC 5200", "2SC5200", "", true},    {"A1943-O(Q)", "2SA1943", "Q", true},
        {"B817", "2SB817", "", true},        {"D1047", "2SD1047", "", true},
        {"mj 15003g", "MJ15003", "G", true}, {"MJL3281AG", "MJL3281A", "G", true},
        {"TIP35C", "TIP35C", "", true},      {"tip-35 c", "TIP35C", "", true},
        {"BC547BTA", "BC547", "TA", true},   {"2N5551TAR", "2N5551", "TAR", true},
        {"2SD1047P", "2SD1047", "P", false}, // 120 W against 100 W (Sanyo)
        {"BC547L", "BC547", "L", false},     // an L can mean another lead order (Fairchild BC212L)
    };
    for (const Row& row : rows) {
        INFO(row.typed);
        const auto found = find_part(builtin_parts(), row.typed);
        REQUIRE(found.has_value());
        CHECK(found->part->type == row.type);
        CHECK(found->rest == row.rest);
        CHECK(found->rest_is_known == row.known);
    }
    for (const char* typed :
         {"", "5200", "2N30556", "2N305", "MJ150", "BC5471", "BC327160", "XYZ9", "2SC", "C"}) {
        INFO(typed);
        CHECK_FALSE(find_part(builtin_parts(), typed));
    }
    const auto two = find_part(builtin_parts(), "MJ15003MJ15004");
    REQUIRE(two.has_value());
    CHECK_FALSE(two->rest_is_known);
}

TEST_CASE("parts: the longest type wins", "[core][device]") {
    CHECK(part("2N3055A").type == "2N3055A");
    CHECK(part("2N3055").type == "2N3055");
    CHECK(part("BD249C").ceo_v == 100);
    CHECK(part("TIP142T").power_w == 90); // ST
    CHECK(part("TIP142").power_w == 125); // onsemi
}

TEST_CASE("parts: the same type however it is written", "[core][device]") {
    CHECK(same_type("2SC5200", "c5200"));
    CHECK(same_type("TIP-35C", "tip 35c"));
    CHECK_FALSE(same_type("2SC5200", "2SA5200"));
    CHECK_FALSE(same_type("", ""));
    CHECK_FALSE(same_type("BD139", "2SBD139"));
}

TEST_CASE("parts: darlingtons and base resistors are told apart", "[core][device]") {
    for (const char* type : {"TIP120", "TIP127", "TIP142", "BDW93C", "BC517", "BC516"}) {
        INFO(type);
        CHECK(part(type).kind == PartKind::darlington);
        CHECK(warns(type, "Darlington"));
    }
    for (const char* type : {"TIP41C", "BD139", "2N3055"}) {
        CHECK(part(type).kind == PartKind::single);
    }
    for (const PartKind kind : {PartKind::single, PartKind::darlington, PartKind::base_resistors}) {
        CHECK(part_kind_from_key(part_kind_key(kind)) == kind);
    }
    CHECK_FALSE(part_kind_from_key("triple"));
}

TEST_CASE("parts: bodies that go onto the same fixing", "[core][device]") {
    CHECK(mount_of("TO-3") == Mount::to3);
    CHECK(mount_of("TO-3P(L)") == Mount::large);
    CHECK(mount_of("TO-264") == Mount::large);
    CHECK(mount_of("TO-3P") == Mount::plate);
    CHECK(mount_of("to 247") == Mount::plate);
    CHECK(mount_of("MT-200") == Mount::multi);
    CHECK(mount_of("TO-220F") == Mount::to220);
    CHECK(mount_of("TO-225") == Mount::to126);
    CHECK(mount_of("TO-92") == Mount::to92);
    CHECK(mount_of("TO-39") == Mount::can);
    CHECK(mount_of("shoebox") == Mount::unknown);
    CHECK(same_package("TO3P", "to-3p"));
    CHECK_FALSE(same_package("", ""));
}

TEST_CASE("parts: a card is a part with its ratings as the library wrote them", "[core][device]") {
    const auto read =
        part_from_card(".model QX NPN(IS=1e-11 BF=120 NE=1.5 ISE=1e-12 IKF=6 VAF=100\n"
                       "+ Vceo=230 Icrating=15 mfg=Somebody)\n",
                       "models.lib");
    INFO((read.ok() ? "" : read.error().message));
    REQUIRE(read.ok());
    CHECK(read->type == "QX");
    CHECK(read->polarity == Polarity::npn);
    CHECK(read->from_card);
    CHECK(read->ceo_v == 230);
    CHECK(read->collector_a == 15);
    CHECK_FALSE(read->power_w);
    CHECK_FALSE(read->gain_low);
    CHECK(read->card_gain_a == 1.5); // a tenth of the rating
    // x = 1.5/(1 + 5/100) = 1.4286; I_F = x + x²/6 = 1.7687; base: 1.7687/120 + 1e-12·((1.7687e11
    // + 1)^(1/1.5) − 1) = 0.014739 + 3.151e-5: hFE 101.6. Tolerance 1 %.
    REQUIRE(read->card_gain);
    CHECK(near(*read->card_gain, 101.6, 0.01));
    CHECK(holds(read->source, "SPICE card QX"));
    CHECK(holds(read->source, "Somebody"));

    const auto bare = part_from_card(".model QY PNP(BF=80)", "models.lib");
    REQUIRE(bare.ok());
    CHECK(bare->polarity == Polarity::pnp);
    CHECK_FALSE(bare->ceo_v);
    CHECK_FALSE(bare->collector_a);

    const auto comment = part_from_card("* first\n.model QA NPN(BF=80)\n* Vceo: 45\n"
                                        "* Icrating: 200m\n.model QB NPN(BF=80 Vceo=90)\n",
                                        "models.lib");
    REQUIRE(comment.ok());
    CHECK(comment->type == "QA");
    CHECK(comment->ceo_v == 45); // not the next card's
    CHECK(near(*comment->collector_a, 0.2, 1e-12));

    const auto bad = part_from_card(".model QZ NPN(BF=80 Vceo=lots)", "models.lib");
    REQUIRE_FALSE(bad.ok());
    CHECK(holds(bad.error().message, "vceo"));
    CHECK_FALSE(part_from_card("2SC5200", "models.lib").ok());
    CHECK_FALSE(part_from_card(".model D1 D(IS=1e-14)", "models.lib").ok());
    CHECK(looks_like_card("  .MODEL q npn"));
    CHECK_FALSE(looks_like_card("MJ15003"));
}
