#include "core/handover/missing.h"

#include "core/handover/report.h"
#include "core/job/teardown.h"
#include "core/words/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace railside {

namespace {

constexpr std::string_view k_last_list = "handing_back";

class Finding {
  public:
    Finding(const Job& job, const Report& report) : job_(job), report_(report) {}

    std::vector<Missing> find() {
        safety();
        pieces();
        lists();
        positions();
        proofs();
        sheet();
        money();
        if (std::none_of(job_.photos.begin(), job_.photos.end(), [](const PhotoRecord& photo) {
                return photo.source.standing == Standing::valid &&
                       photo.stage == PhotoStage::finished;
            }))
            add("photo/finished", "There is no photo of the finished unit.", MendIn::photos);
        const ClosingRecord& closing = job_.closing;
        if (closing.words.empty())
            add("words", "The closing words are not written.", MendIn::handover);
        if (closing.cause.empty())
            add("cause", "The cause is not written down for later jobs.", MendIn::handover);
        if (closing.cure.empty())
            add("cure", "The cure is not written down for later jobs.", MendIn::handover);
        for (Missing& one : found_)
            for (const auto& pass : closing.overrides)
                if (pass.first == one.key)
                    one.reason = pass.second;
        return std::move(found_);
    }

  private:
    void add(std::string key, std::string sentence, MendIn where, std::string what = {},
             Channel channel = Channel::none) {
        found_.push_back(
            {std::move(key), std::move(sentence), where, std::move(what), channel, {}});
    }

    void safety() {
        for (const ReportWanting& one : report_.wanting)
            if (one.record.rank == WantingRank::safety)
                add(fmt::format("safety/{}", one.record.source.entry),
                    worded("\"{}\" is a matter of safety and still open.", one.record.title),
                    MendIn::handover, one.record.source.entry);
    }

    void pieces() {
        if (const std::string still = still_off_sentence(reassembly_list(job_)); !still.empty())
            add("pieces_off", still, MendIn::apart);
    }

    void lists() {
        bool last = false;
        for (const ListRecord& list : job_.lists) {
            if (list.source.standing != Standing::valid)
                continue;
            last = last || list.key == k_last_list;
            int open = 0;
            const StepRecord* first = nullptr;
            for (const StepRecord& step : list.steps)
                if (step.state == StepState::open) {
                    ++open;
                    // The one that bars the others is the one to name.
                    if (first == nullptr || (step.step.bars && !first->step.bars))
                        first = &step;
                }
            if (first == nullptr)
                continue;
            std::string key = fmt::format("list/{}", list.key);
            if (std::any_of(found_.begin(), found_.end(),
                            [&](const Missing& one) { return one.key == key; }))
                key += fmt::format("/{}", list.source.entry); // taken up twice
            add(std::move(key),
                worded("{}: {} of {} steps open, among them: {}.", list.name, open,
                       list.steps.size(), first->step.text),
                MendIn::steps, list.source.entry);
        }
        if (!last)
            add(fmt::format("list/{}", k_last_list), "The list for handing back is not taken up.",
                MendIn::steps, std::string(k_last_list));
    }

    void positions() {
        for (const ReportPosition& position : report_.positions) {
            const std::string& state = position.now.state;
            if (state != "bad" && state != "suspect")
                continue;
            const auto told = [&](const std::vector<ReportWanting>& lines) {
                return std::any_of(lines.begin(), lines.end(), [&](const ReportWanting& one) {
                    return one.record.position == position.now.source.entry;
                });
            };
            if (!told(report_.wanting) && !told(report_.settled))
                add(fmt::format("position/{}", position.now.source.entry),
                    worded("{} is still {}, and nothing still wanting names it.", position.name,
                           state),
                    MendIn::positions, position.now.source.entry, position.now.channel);
        }
    }

    void proofs() {
        for (const Proof& proof : report_.proofs) {
            if ((proof.key != "idle" && proof.key != "power") || proof.when == ProofWhen::after)
                continue;
            const std::string_view side = channel_key(proof.channel);
            add(side.empty() ? proof.key : fmt::format("{}/{}", proof.key, side),
                worded("{}{}: not measured{}.",
                       proof.key == "idle" ? "Idle current" : "Clean power",
                       side.empty() ? "" : fmt::format(", {}", side),
                       proof.when == ProofWhen::before ? " after the repair" : ""),
                MendIn::workings, proof.key == "idle" ? "idle" : "clip", proof.channel);
        }
    }

    void sheet() {
        const Sheet& sheet = job_.sheet;
        if (sheet.maker.empty() && sheet.model.empty())
            add("unit", "The sheet names neither maker nor model.", MendIn::sheet);
        if (sheet.complaint.empty())
            add("complaint", "The sheet has no complaint in the client's words.", MendIn::sheet);
    }

    void money() {
        const Money& money = report_.money;
        if (money.limit <= 0)
            add("limit", "No limit was agreed with the client.", MendIn::money);
        if (money.limit > 0 && money.left < 0)
            add("limit_passed",
                worded("{} were spent, past the agreed limit of {}.", print_money(money.total, {}),
                       print_money(money.limit, money.currency)),
                MendIn::money);
        const bool unpriced = std::any_of(report_.wanting.begin(), report_.wanting.end(),
                                          [](const ReportWanting& one) { return !one.priced; });
        if (money.minutes_without_rate > 0 || unpriced)
            add("rate", "There are minutes of work, and the sheet has no hourly rate.",
                MendIn::money);
    }

    const Job& job_;
    const Report& report_;
    std::vector<Missing> found_;
};

} // namespace

std::string_view mend_in_key(MendIn where) {
    switch (where) {
    case MendIn::sheet:
        return "sheet";
    case MendIn::positions:
        return "positions";
    case MendIn::money:
        return "money";
    case MendIn::photos:
        return "photos";
    case MendIn::steps:
        return "steps";
    case MendIn::apart:
        return "apart";
    case MendIn::workings:
        return "workings";
    case MendIn::handover:
        return "handover";
    }
    return {};
}

std::vector<Missing> missing(const Job& job, const Report& report) {
    return Finding(job, report).find();
}

std::vector<Missing> missing(const Job& job) { return make_report(job, {}, {}).missing; }

bool can_hand_back(const std::vector<Missing>& missing) {
    return std::all_of(missing.begin(), missing.end(),
                       [](const Missing& one) { return !one.reason.empty(); });
}

} // namespace railside
