// Reads the comma-separated tables of this folder: '#' lines are comments, the next is the header.
#pragma once

#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace test_data {

/// One line, by column name.
class Row {
  public:
    explicit Row(std::map<std::string, std::string> cells) : cells_(std::move(cells)) {}
    [[nodiscard]] const std::string& text(const std::string& column) const {
        return cells_.at(column);
    }
    [[nodiscard]] double number(const std::string& column) const { return std::stod(text(column)); }

  private:
    std::map<std::string, std::string> cells_;
};

/// All rows of a table; throws when the file is not there or holds no row, so that no test passes
/// on nothing.
[[nodiscard]] inline std::vector<Row> rows_of(const std::string& name) {
    std::ifstream file(std::string(RAILSIDE_TEST_DATA) + "/" + name);
    std::vector<std::string> header;
    std::vector<Row> rows;
    for (std::string line; std::getline(file, line);) {
        if (line.empty() || line.front() == '#') {
            continue;
        }
        std::vector<std::string> cells;
        std::stringstream stream(line);
        for (std::string cell; std::getline(stream, cell, ',');) {
            cells.push_back(cell);
        }
        if (header.empty()) {
            header = cells;
            continue;
        }
        std::map<std::string, std::string> named;
        for (std::size_t i = 0; i < header.size(); ++i) {
            named[header[i]] = cells.at(i);
        }
        rows.emplace_back(std::move(named));
    }
    if (rows.empty()) {
        throw std::runtime_error("no rows in " + name);
    }
    return rows;
}

} // namespace test_data
