// What of an entry is searched for, and how words typed become a query of SQLite's full-text index
// (FTS5). Pure: the index itself is in index.h beside this file.
#pragma once

#include "core/job/job.h"
#include "core/store/bench.h"

#include <array>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

/// The columns of the index, the most telling first.
enum class SearchColumn { unit, complaint, positions, words, verdicts };
inline constexpr std::size_t k_search_columns = 5;

/// Text of one entry, or of a job, by column; each piece ends with a line end.
using SearchText = std::array<std::string, k_search_columns>;

/// Adds what the entry says. Entries that do not fit their kind add nothing, nor do ticks that are
/// only ticks. At most 20 000 bytes a piece.
void add_search_text(SearchText& text, const Entry& entry);

/// Words as typed become a query that wants all of them somewhere in the job, each as the beginning
/// of a word ("2sc52" finds 2SC5200; "SA-260" wants both halves side by side). At most 12 words;
/// what has neither letter nor figure is passed over. Empty when nothing is left. No operator of
/// the query language can be typed.
[[nodiscard]] std::string search_query(std::string_view words);

/// One word or phrase, quoted so that nothing in it is an operator; for the named columns only.
[[nodiscard]] std::string quoted_phrase(std::string_view words);

/// The words of a complaint that can tell one fault from another: four letters or more, small,
/// each once, none of the most common of the language or of the trade ("amplifier", "channel").
[[nodiscard]] std::vector<std::string> telling_words(std::string_view text);

/// What was found to be wrong in a job: the cause and cure of its closing words, then its positions
/// that are bad or were replaced, "VR201 left, trim pot, bad". At most `most`.
[[nodiscard]] std::vector<std::string> causes_found(const Job& job, std::size_t most);

} // namespace railside
