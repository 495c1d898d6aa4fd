// Writes a job's entries for tests that fold them.
#pragma once

#include "core/job/job.h"
#include "support/catch.h"

#include <string>
#include <utility>
#include <vector>

/// Makes entries of one job with ids and times that rise one by one.
class Writer {
  public:
    explicit Writer(std::int64_t begin = 1'700'000'000'000) : time_(begin) {
        job_ = add(railside::EntryKind::job, {{"maker", "Orrinvale"}});
    }

    std::string add(railside::EntryKind kind, nlohmann::json body) {
        railside::Entry entry;
        entry.time_ms = time_++;
        entry.id = railside::make_entry_id(entry.time_ms, {9, 8, 7, 6, 5, 4, 3, 2, 1, 0}, "");
        entry.job = job_.empty() ? entry.id : job_;
        entry.bench = "bench";
        entry.kind = kind;
        entry.body = std::move(body);
        entries_.push_back(entry);
        return entry.id;
    }
    std::string strike(const std::string& id,
                       railside::Standing standing = railside::Standing::struck) {
        return add(railside::EntryKind::strike, railside::strike_body(id, standing));
    }
    std::string note(const std::string& text) {
        return add(railside::EntryKind::note, {{"text", text}});
    }
    std::string position(const std::string& designator,
                         nlohmann::json more = nlohmann::json::object()) {
        more["designator"] = designator;
        return add(railside::EntryKind::position, std::move(more));
    }

    [[nodiscard]] railside::Job fold() const {
        railside::Result<railside::Job> job = railside::fold_job(job_, entries_);
        REQUIRE(job.ok());
        return std::move(job).value();
    }
    [[nodiscard]] const std::string& job() const { return job_; }
    std::vector<railside::Entry>& entries() { return entries_; }

  private:
    std::int64_t time_;
    std::string job_;
    std::vector<railside::Entry> entries_;
};
