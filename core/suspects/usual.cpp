#include "core/suspects/usual.h"

#include "core/quantity/refusal.h"
#include "core/quantity/value_code.h"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

/// Reads what the sheet knows; the first thing that is wrong is kept.
class Known {
  public:
    explicit Known(const Job& job) : job_(&job) {}

    [[nodiscard]] std::optional<double> number(const char* field, Unit unit, double low,
                                               double high) {
        const auto text = job_->known(field);
        if (!text || text->empty() || wrong_)
            return std::nullopt;
        const auto parsed = parse_value(*text, unit, field);
        if (!parsed) {
            wrong_ = parsed.error();
            return std::nullopt;
        }
        if (!(parsed->value >= low && parsed->value <= high)) {
            wrong_ = refusal(ErrorCode::out_of_range, field,
                             fmt::format("{} is not accepted. Accepted: {:g} to {:g}.",
                                         railside::quoted(*text), low, high));
            return std::nullopt;
        }
        return parsed->value;
    }
    void need(const std::optional<double>& value, const char* field, const char* label) {
        if (!value && !wrong_)
            wrong_ = refusal(ErrorCode::missing, field,
                             fmt::format("{} is not known yet: key it into a working, then take up "
                                         "the circuit.",
                                         label));
    }
    void set(double& into, const char* field, Unit unit, double low, double high) {
        if (const auto value = number(field, unit, low, high))
            into = *value;
    }
    [[nodiscard]] std::string word(const char* field) const {
        return job_->known(field).value_or("");
    }
    [[nodiscard]] const std::optional<Error>& wrong() const { return wrong_; }

  private:
    const Job* job_;
    std::optional<Error> wrong_;
};

constexpr double k_most_ohm = 1e6;

void put_slope(UsualLimiter& limiter, const std::string& to, std::optional<double> ohm) {
    if (!ohm)
        return;
    if (to == "ground" || to == "ground_diode") {
        limiter.ground_ohm = ohm;
        limiter.ground_diode = to == "ground_diode";
    } else if (to == "own") {
        limiter.own_rail_ohm = ohm;
    } else if (to == "far") {
        limiter.far_rail_ohm = ohm;
    }
}

/// The netlist and the roles, written side by side.
class Writer {
  public:
    void line(const std::string& text) { netlist_ += text + "\n"; }
    void part(const std::string& name, const std::string& rest, const char* role,
              const char* half = nullptr) {
        line(name + " " + rest);
        positions_[name]["role"] = role;
        if (half != nullptr)
            positions_[name]["half"] = half;
    }
    [[nodiscard]] CircuitRecord record(const std::string& name, nlohmann::json said) {
        said["positions"] = positions_;
        return {{}, name, netlist_ + ".end\n", said.dump()};
    }

  private:
    std::string netlist_;
    nlohmann::json positions_ = nlohmann::json::object();
};

void write_cards(Writer& out) {
    out.line(".model small_n npn(is=2e-14 bf=250 vaf=100 rb=100 rc=1 re=0.3)");
    out.line(".model small_p pnp(is=2e-14 bf=250 vaf=80 rb=100 rc=1 re=0.3)");
    out.line(".model amp_n npn(is=8e-14 bf=150 vaf=150 rb=20 rc=0.5 re=0.1)");
    out.line(".model amp_p pnp(is=8e-14 bf=150 vaf=120 rb=20 rc=0.5 re=0.1)");
    out.line(".model drive_n npn(is=6e-13 bf=120 vaf=150 rb=3 rc=0.1 re=0.02)");
    out.line(".model drive_p pnp(is=6e-13 bf=120 vaf=120 rb=3 rc=0.1 re=0.02)");
    out.line(".model power_n npn(is=2e-11 bf=80 ikf=10 vaf=120 rb=1 rc=0.02 re=0.005)");
    out.line(".model power_p pnp(is=2e-11 bf=80 ikf=8 vaf=100 rb=1 rc=0.02 re=0.005)");
    out.line(".model small_d d(is=2.5e-9 n=1.75 rs=0.6)");
    out.line(".model power_d d(is=2e-9 n=1.6 rs=0.04)");
}

void write_front(Writer& out, const UsualValues& values) {
    constexpr double k_reference_a = 2.1e-3;
    out.part("rfuse_p", "rail_p vp 0.05", "rail fuse", "+");
    out.part("rfuse_n", "rail_n vn 0.05", "rail fuse", "-");
    out.line("vin in 0 0");
    out.line("cin in b1 2.2u");
    out.line("rin b1 0 22k");
    out.part("q1", "c1 b1 e1 small_p", "input pair");
    out.part("q2", "vn fb e2 small_p", "input pair");
    out.line("re1 e1 tail 100");
    out.line("re2 e2 tail 100");
    out.part("q3", "tail ref e3 small_p", "tail source");
    out.part("re3", "vp e3 270", "tail source resistor");
    out.part("d1", "vp dref small_d", "reference diode");
    out.part("d2", "dref ref small_d", "reference diode");
    out.part("rref", fmt::format("ref 0 {:.4g}", (values.rail_v - 1.4) / k_reference_a),
             "reference resistor");
    out.part("rc1", "c1 vn 820", "input collector load");
    out.part("q4", "bn c1 e4 amp_n", "voltage amplifier", "-");
    out.part("re4", "e4 vn 22", "voltage amplifier emitter resistor", "-");
    out.part("cdom", "bn c1 100p", "compensation capacitor");
    out.part("q5", "bp ref e5 amp_p", "voltage amplifier load", "+");
    out.part("re5", "vp e5 68", "load source emitter resistor", "+");
    out.part("rfb", "out fb 22k", "feedback resistor");
    out.part("rg", "fb g 820", "feedback shunt resistor");
    out.part("cg", "g 0 100u", "feedback capacitor");
}

void write_spreader(Writer& out, const UsualValues& values) {
    out.part("q7", "bp sb bn small_n", "bias spreader");
    const char* top = values.trim_above ? "st" : "sb";
    const char* bottom = values.trim_above ? "sb" : "st";
    out.part("rupper", fmt::format("bp {} {:.6g}", top, values.upper_ohm),
             "spreader upper resistor");
    out.part("rtrim", fmt::format("st sb {:.6g}", values.trim_ohm * 0.35), "trim pot");
    out.part("rlower", fmt::format("{} bn {:.6g}", bottom, values.lower_ohm),
             "spreader lower resistor");
    out.part("cs", "bp bn 10u", "spreader bypass");
}

void write_limiter(Writer& out, const UsualLimiter& limiter, bool plus) {
    const char* half = plus ? "+" : "-";
    const std::string n = plus ? "9" : "10";
    const std::string base = "s" + n;
    const auto resistor = [&](const std::string& name, const std::string& a, const std::string& b,
                              double ohm, const char* role) {
        out.part(name + n, fmt::format("{} {} {:.6g}", a, b, ohm), role, half);
    };
    out.part("q" + n, fmt::format("l{} {} out {}", n, base, plus ? "small_n" : "small_p"),
             "limiter", half);
    out.part("d" + n, plus ? "bp l9 small_d" : "l10 bn small_d", "limiter collector diode", half);
    resistor("rs", plus ? "ep" : "en", base, limiter.sense_ohm, "limiter sense resistor");
    if (limiter.divider_ohm)
        resistor("rd", base, "out", *limiter.divider_ohm, "limiter divider resistor");
    if (limiter.ground_ohm && limiter.ground_diode) {
        resistor("rl", base, "g" + n, *limiter.ground_ohm, "limiter slope resistor");
        out.part("dl" + n, plus ? "g9 0 small_d" : "0 g10 small_d", "limiter slope diode", half);
    } else if (limiter.ground_ohm) {
        resistor("rl", base, "0", *limiter.ground_ohm, "limiter slope resistor");
    }
    if (limiter.own_rail_ohm)
        resistor("ro", base, plus ? "vp" : "vn", *limiter.own_rail_ohm,
                 "limiter second slope resistor");
    if (limiter.far_rail_ohm)
        resistor("rx", base, plus ? "vn" : "vp", *limiter.far_rail_ohm,
                 "limiter second slope resistor");
}

void write_output(Writer& out, const UsualValues& values) {
    out.part("q11", "vp bp dp drive_n", "driver", "+");
    out.part("q12", "vn bn dn drive_p", "driver", "-");
    out.part("rdd", "dp dn 150", "driver emitter resistor");
    for (int pair = 1; pair <= values.pairs; ++pair) {
        const std::string n = pair == 1 ? std::string() : fmt::format("_{}", pair);
        out.part("q14" + n, fmt::format("vp dp ep{} power_n", n), "output", "+");
        out.part("q15" + n, fmt::format("vn dn en{} power_p", n), "output", "-");
        out.part("rep" + n, fmt::format("ep{} out {:.6g}", n, values.emitter_ohm),
                 "emitter resistor", "+");
        out.part("ren" + n, fmt::format("out en{} {:.6g}", n, values.emitter_ohm),
                 "emitter resistor", "-");
    }
    if (values.limiter) {
        write_limiter(out, *values.limiter, true);
        write_limiter(out, *values.limiter, false);
    }
    out.line("rz out z 10");
    out.line("cz z 0 100n");
    out.part("dcp", "out vp power_d", "catch diode", "+");
    out.part("dcn", "vn out power_d", "catch diode", "-");
    out.line(fmt::format("rload out 0 {:.6g}", values.load_ohm));
}

} // namespace

Result<UsualValues> usual_values(const Job& job) {
    UsualValues values;
    Known known(job);
    const auto rail = known.number("rail", Unit::volt, 5, 150);
    known.need(rail, "rail", "The rail");
    const auto emitter = known.number("emitter_resistor", Unit::ohm, 0.01, 10);
    known.need(emitter, "emitter_resistor", "The emitter resistor");
    values.rail_v = rail.value_or(values.rail_v);
    values.emitter_ohm = emitter.value_or(values.emitter_ohm);
    if (const auto pairs = known.number("pairs", Unit::ratio, 1, 6))
        values.pairs = static_cast<int>(std::lround(*pairs));
    known.set(values.load_ohm, "load", Unit::ohm, 1, 100);
    known.set(values.service_v, "target", Unit::volt, 1e-4, 1);
    known.set(values.upper_ohm, "upper", Unit::ohm, 1, k_most_ohm);
    known.set(values.lower_ohm, "lower", Unit::ohm, 1, k_most_ohm);
    known.set(values.trim_ohm, "trim", Unit::ohm, 1, k_most_ohm);
    values.trim_above = known.word("trim_place") != "lower";
    if (const auto sense = known.number("sense_resistor", Unit::ohm, 1, k_most_ohm)) {
        UsualLimiter limiter;
        limiter.sense_ohm = *sense;
        // What the board should have, not what an earlier shop put there.
        limiter.divider_ohm = known.number("printed_divider", Unit::ohm, 1, k_most_ohm);
        if (!limiter.divider_ohm)
            limiter.divider_ohm = known.number("divider_resistor", Unit::ohm, 1, k_most_ohm);
        put_slope(limiter, known.word("slope"), known.number("slope_resistor", Unit::ohm, 1, 1e7));
        put_slope(limiter, known.word("second_slope"),
                  known.number("second_slope_resistor", Unit::ohm, 1, 1e7));
        values.limiter = limiter;
    }
    if (known.wrong())
        return *known.wrong();
    return values;
}

CircuitRecord usual_circuit(const UsualValues& values) {
    Writer out;
    out.line("complementary followers, values of the job");
    write_cards(out);
    out.line(fmt::format("vpos rail_p 0 {:.6g}", values.rail_v));
    out.line(fmt::format("vneg rail_n 0 {:.6g}", -values.rail_v));
    write_front(out, values);
    write_spreader(out, values);
    write_output(out, values);
    constexpr double k_fuse_share = 0.8; // of what the load takes at the rail
    return out.record("complementary followers, from this job's values",
                      {{"service_v_re_mV", values.service_v * 1e3},
                       {"fuse_A", std::max(1.0, k_fuse_share * values.rail_v / values.load_ohm)},
                       {"trim_ohm", values.trim_ohm}});
}

} // namespace railside
