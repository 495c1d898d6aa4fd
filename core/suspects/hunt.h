// The hunt: what the evidence says of every position, and what to look at next.
//
// Bayes' rule over single faults (core/suspects/predictions.h). A reading's likelihood is a normal
// one on its comparison scale, mixed with a broad tail of share k (a slip, a second fault, a bad
// solder joint), so that no single reading kills a suspect; the product is taken row by row and
// summed over the rows of a fault, which lets the readings agree on a severity. "Something else"
// gives every reading the broad tail alone and so takes over when nothing fits. The next test is
// the one with the greatest expected information about the position (Lindley, Annals of
// Mathematical Statistics 27, 1956) per minute, among those that are safe at this point.
#pragma once

#include "core/suspects/minutes.h"
#include "core/suspects/predictions.h"

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// What a client reports.
enum class Complaint {
    blows_fuse,
    dc,        // the loudspeaker is pushed, the protection does not let go
    hot,       // at idle
    breaks_up, // when loud
    rough,     // when quiet: a crossover notch
    weak,      // much too quiet, half a wave gone
    distorted,
    breaks_up_plus, // told of one half: the peaks that point up are cut
    breaks_up_minus,
    hum, // mostly of what the circuit does not show: reservoirs, rectifier, ground wiring
};
[[nodiscard]] std::string_view complaint_key(Complaint complaint); // "breaks_up"
[[nodiscard]] std::string_view complaint_words(Complaint complaint);
[[nodiscard]] std::optional<Complaint> complaint_from_key(std::string_view key);

/// What a part shows out of circuit.
enum class PartState { good, shorted, leaky, open, low_gain, changed, bad /* not said how */ };
[[nodiscard]] std::string_view part_state_key(PartState state); // "low_gain"
[[nodiscard]] std::optional<PartState> part_state_from_key(std::string_view key);

/// One thing that is known. What it is, is in `key`:
///   a probe's key ("idle/offset")   value, SI; none: it could not be had
///   "complaint/KEY"                 yes: 1, expressly not: 0
///   "part/NAME"                     part_state; none: the bench could not tell
///   "mark/NAME"                     fitted by an earlier shop: a prior, not a proof
struct Evidence {
    std::string id; // of the entry it comes from, or empty
    std::string key;
    std::optional<double> value;
    std::optional<PartState> part;
    bool struck = false; // does not count
};

struct HuntOptions {
    PredictionOptions predictions;
    Minutes minutes;
    double tail = 0.03;             // share of a likelihood's broad tail
    double tail_width = 12;         // its width on the comparison scale
    double width = 1;               // factor on every standard deviation
    double floor = 1e-4;            // a fault keeps this share of its prior whatever is read
    double lamp_dim_a = 0.3;        // per rail: above it full mains is not safe
    double offset_safe_v = 1;       // at the output: above it no load is put on
    double sure = 0.95;             // a name that is given
    double worth_bits = 0.02;       // a test below this is not worth doing
    bool from_outside_only = false; // nothing is taken out of circuit
};

/// A position with what speaks for it.
struct Suspect {
    int position = -1; // index into the amplifier's; −1: no fault, or something else
    std::string name;  // "q9", "no fault", "something else"
    double probability = 0;
    FaultKind kind = FaultKind::none;     // the likeliest at this position
    double kind_probability = 0;          // of the position's
    std::optional<double> severity_value; // its likeliest, ohm or a factor
};

/// What a test would say, and what that would mean.
struct TestOutcome {
    double probability = 0;
    std::string shows; // "0 to 4 mV"
    std::string means; // "q9 (80 %), rbs9"
};

struct Proposal {
    std::string key; // of the evidence it asks for
    int probe = -1;
    int position = -1; // a part to be tested out of circuit
    Setup setup = Setup::off;
    double minutes = 0; // getting there included
    double bits = 0;    // expected information about the position
    std::string what;   // "volts at the output"
    std::string where;  // the setup in words, or how the part is tested
    std::string why;
    std::vector<TestOutcome> outcomes;
};

enum class HuntStop {
    none,          // there is a next test
    confirmed,     // a part was bad out of circuit
    sure,          // one name above options.sure, nothing left to do about it
    nothing_tells, // no test is worth its minutes
};

/// What a hunt has come to.
struct HuntStanding {
    HuntStop stop = HuntStop::none;
    std::string sentence;                 // "q9, leaky: 93 %. ..."
    std::string confirm;                  // what would confirm it, with the threshold
    std::vector<std::string> also_fits;   // names
    bool only_out_of_circuit = false;     // nothing outside can tell the rest apart: pull one
    std::vector<std::string> unexplained; // evidence the leading name does not explain
};

class Hunt {
  public:
    /// Works the table out: seconds. Errors: those of predict().
    [[nodiscard]] static Result<Hunt> create(Amplifier amplifier, const HuntOptions& options);

    /// Positions by probability, the likeliest first; the two that are none among them.
    [[nodiscard]] std::vector<Suspect> rank(const std::vector<Evidence>& evidence) const;
    /// Nothing when the hunt is over (standing() says why).
    [[nodiscard]] std::optional<Proposal> next_test(const std::vector<Evidence>& evidence) const;
    [[nodiscard]] HuntStanding standing(const std::vector<Evidence>& evidence) const;
    /// For a position: each piece of evidence with what it expects there, in plain words.
    [[nodiscard]] std::vector<std::string> explain(std::string_view position,
                                                   const std::vector<Evidence>& evidence) const;
    /// Which pieces of evidence (indices) the fault of that position cannot account for: ask it
    /// after the cure.
    [[nodiscard]] std::vector<std::size_t> unexplained(std::string_view position,
                                                       const std::vector<Evidence>& evidence) const;

    /// Why a setup is not safe now; empty when it is.
    [[nodiscard]] std::string unsafe(Setup setup, const std::vector<Evidence>& evidence) const;

    [[nodiscard]] const Amplifier& amplifier() const { return *amplifier_; }
    [[nodiscard]] const Predictions& predictions() const { return *predictions_; }
    [[nodiscard]] const HuntOptions& options() const { return options_; }
    /// Other likelihoods over the same table.
    [[nodiscard]] Hunt with(const HuntOptions& options) const;
    /// The same table for a board that calls its positions so: as many names as there are
    /// positions, an empty one leaves the netlist's.
    [[nodiscard]] Hunt named(const std::vector<std::string>& names) const;

  private:
    struct Belief; // posterior by fault and row
    Hunt() = default;
    [[nodiscard]] Belief believe(const std::vector<Evidence>& evidence) const;
    /// Probability that a client would report it.
    [[nodiscard]] double would_tell(Complaint complaint, const FaultPrediction& fault,
                                    int row) const;
    [[nodiscard]] std::vector<Proposal> tests(const std::vector<Evidence>& evidence,
                                              const Belief& belief) const;
    [[nodiscard]] double probe_bits(int probe, const Belief& belief) const;
    [[nodiscard]] double part_bits(int position, const Belief& belief) const;
    void tell(Proposal& proposal, const Belief& belief) const;

    std::shared_ptr<const Amplifier> amplifier_;
    std::shared_ptr<const Predictions> predictions_;
    std::shared_ptr<const std::vector<std::vector<float>>> told_; // by fault: row × complaint
    HuntOptions options_;
};

/// What the part's fault shows out of circuit.
[[nodiscard]] PartState part_state_of(FaultKind kind);
/// "between collector and emitter 20 V through 1 kΩ drives more than 0.1 mA", by fault.
[[nodiscard]] std::string confirming_words(const SuspectPosition& position, FaultKind kind);

} // namespace railside
