// From a job to a hunt: which amplifier it is, what the board calls its positions, and what of the
// job's entries speaks about a channel. The rules are in core/suspects/hunt.md, "From a job".
#pragma once

#include "core/job/job.h"
#include "core/suspects/hunt.h"

#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The circuit of a channel with its rated load; a load that the job knows of that channel alone
/// ("clip.right.load") stands in for the circuit's. Errors: missing (no circuit), those of
/// read_netlist and read_amplifier.
[[nodiscard]] Result<Amplifier> job_amplifier(const Job& job, Channel channel);
/// What the predictions hang on: channels and jobs of one key share one table. Empty: no circuit.
[[nodiscard]] std::string table_key(const Job& job, Channel channel);

/// For each position of the amplifier what the board calls it: as the circuit names it, else the
/// only position of the job with that role and half, else the netlist's name in capitals.
[[nodiscard]] std::vector<std::string> position_names(const Job& job, Channel channel,
                                                      const Amplifier& amplifier);

/// One thing of the job that speaks about a channel, or seems to.
struct JobEvidence {
    Evidence evidence;    // `id` is the entry's, parts by the board's names; no key: not weighed
    std::string words;    // "R231, idle volts: 96 mV"
    std::string why_not;  // a sentence why it is not weighed; empty: it is
    std::string position; // the netlist's name of the part it is about, or empty
};

/// What stands at the end of the evidence.
struct JobFacts {
    std::vector<JobEvidence> items; // by entry, oldest first; struck ones among them
    std::vector<std::string> cured; // the board's names of what was replaced since the last of it
    std::string since; // the board's name of what was replaced before it; earlier readings are out

    /// What counts, as the hunt takes it.
    [[nodiscard]] std::vector<Evidence> evidence() const;
};
[[nodiscard]] JobFacts job_facts(const Job& job, Channel channel, const Amplifier& amplifier);

/// The netlist's name of a part called `name` on the board; `name` itself when there is none.
[[nodiscard]] std::string element_name(const Job& job, Channel channel, const Amplifier& amplifier,
                                       std::string_view name);

/// What a reading that the hunt asked for is filed as: its `field`, "hunt/idle/v_re1".
[[nodiscard]] std::string hunt_field(std::string_view probe_key);

} // namespace railside
