#include "core/circuit/elimination.h"

#include <algorithm>
#include <cmath>

namespace railside {

namespace {

constexpr double k_least_pivot = 1e-18;
constexpr double k_choice = 0.1; // of the largest in its column, when the order is found
constexpr double k_keep = 1e-3;  // the same, while it is used

} // namespace

void Elimination::begin(int n) {
    n_ = n;
    ordered_ = false;
    const auto whole = static_cast<std::size_t>(n) * static_cast<std::size_t>(n);
    values_.assign(whole, 0);
    entries_.assign(whole, 0);
    pattern_.assign(whole, 0);
    cells_.clear();
    cells_.reserve(2 * whole);
    pivots_.clear();
    pivots_.reserve(static_cast<std::size_t>(n));
    rows_.clear();
    rows_.reserve(whole);
    columns_.clear();
    columns_.reserve(whole);
    row_done_.assign(static_cast<std::size_t>(n), 0);
    column_done_.assign(static_cast<std::size_t>(n), 0);
    right_.setZero(n);
}

/// Whether every entry of the matrix has its place; new ones are taken up.
bool Elimination::covered(const Matrix& matrix) {
    bool all = true;
    for (int column = 0; column < n_; ++column) {
        for (int row = 0; row < n_; ++row) {
            char& seen = entries_[static_cast<std::size_t>(row) * static_cast<std::size_t>(n_) +
                                  static_cast<std::size_t>(column)];
            if (matrix(row, column) != 0 && seen == 0) {
                seen = 1;
                all = false;
            }
        }
    }
    return all;
}

/// The pivot of least fill among what is left; false when nothing is large enough.
bool Elimination::pick(Pivot& pivot) {
    std::size_t least = static_cast<std::size_t>(-1);
    double size = 0;
    for (int column = 0; column < n_; ++column) {
        if (column_done_[static_cast<std::size_t>(column)] != 0) {
            continue;
        }
        double largest = 0;
        std::size_t in_column = 0;
        for (int row = 0; row < n_; ++row) {
            if (row_done_[static_cast<std::size_t>(row)] == 0 && there(row, column) != 0) {
                ++in_column;
                largest = std::max(largest, std::abs(at(row, column)));
            }
        }
        if (!(largest > k_least_pivot)) {
            return false; // nothing in this column will ever be: singular
        }
        for (int row = 0; row < n_; ++row) {
            if (row_done_[static_cast<std::size_t>(row)] != 0 ||
                !(std::abs(at(row, column)) >= k_choice * largest)) {
                continue;
            }
            std::size_t in_row = 0;
            for (int other = 0; other < n_; ++other) {
                in_row +=
                    column_done_[static_cast<std::size_t>(other)] == 0 && there(row, other) != 0
                        ? 1
                        : 0;
            }
            const std::size_t fill = (in_row - 1) * (in_column - 1);
            const double here = std::abs(at(row, column));
            if (fill < least || (fill == least && here > size)) {
                least = fill;
                size = here;
                pivot.row = row;
                pivot.column = column;
            }
        }
    }
    return least != static_cast<std::size_t>(-1);
}

void Elimination::eliminate(const Pivot& pivot) {
    const double* const from = &at(pivot.row, 0);
    const double one_over = 1 / from[pivot.column];
    for (std::size_t i = pivot.rows_from; i < pivot.rows_to; ++i) {
        double* const into = &at(rows_[i], 0);
        double& entry = into[pivot.column];
        if (entry == 0) {
            continue;
        }
        entry *= one_over;
        const double factor = entry;
        for (std::size_t j = pivot.columns_from; j < pivot.columns_to; ++j) {
            into[columns_[j]] -= factor * from[columns_[j]];
        }
    }
}

bool Elimination::order(const Matrix& matrix) {
    ordered_ = false;
    pattern_ = entries_;
    for (int row = 0; row < n_; ++row) {
        for (int column = 0; column < n_; ++column) {
            at(row, column) = matrix(row, column);
        }
    }
    std::fill(row_done_.begin(), row_done_.end(), 0);
    std::fill(column_done_.begin(), column_done_.end(), 0);
    pivots_.clear();
    rows_.clear();
    columns_.clear();
    for (int k = 0; k < n_; ++k) {
        Pivot pivot;
        if (!pick(pivot)) {
            return false;
        }
        row_done_[static_cast<std::size_t>(pivot.row)] = 1;
        column_done_[static_cast<std::size_t>(pivot.column)] = 1;
        pivot.rows_from = rows_.size();
        pivot.columns_from = columns_.size();
        for (int i = 0; i < n_; ++i) {
            if (row_done_[static_cast<std::size_t>(i)] == 0 && there(i, pivot.column) != 0) {
                rows_.push_back(i);
            }
            if (column_done_[static_cast<std::size_t>(i)] == 0 && there(pivot.row, i) != 0) {
                columns_.push_back(i);
            }
        }
        pivot.rows_to = rows_.size();
        pivot.columns_to = columns_.size();
        for (std::size_t i = pivot.rows_from; i < pivot.rows_to; ++i) {
            for (std::size_t j = pivot.columns_from; j < pivot.columns_to; ++j) {
                there(rows_[i], columns_[j]) = 1;
            }
        }
        eliminate(pivot);
        pivots_.push_back(pivot);
    }
    cells_.clear();
    for (int row = 0; row < n_; ++row) {
        for (int column = 0; column < n_; ++column) {
            if (there(row, column) != 0) {
                cells_.push_back(row);
                cells_.push_back(column);
            }
        }
    }
    ordered_ = true;
    return true;
}

bool Elimination::eliminate_all(const Matrix& matrix) {
    for (std::size_t i = 0; i < cells_.size(); i += 2) {
        at(cells_[i], cells_[i + 1]) = matrix(cells_[i], cells_[i + 1]);
    }
    for (const Pivot& pivot : pivots_) {
        const double size = std::abs(at(pivot.row, pivot.column));
        double largest = 0;
        for (std::size_t i = pivot.rows_from; i < pivot.rows_to; ++i) {
            largest = std::max(largest, std::abs(at(rows_[i], pivot.column)));
        }
        if (!(size > k_least_pivot) || !(size >= k_keep * largest)) {
            return false;
        }
        eliminate(pivot);
    }
    return true;
}

bool Elimination::factor(const Matrix& matrix) {
    if (covered(matrix) && ordered_ && eliminate_all(matrix)) {
        return true;
    }
    return order(matrix);
}

void Elimination::solve(const Vector& right, Vector& x) {
    right_ = right;
    for (const Pivot& pivot : pivots_) {
        const double value = right_[pivot.row];
        if (value == 0) {
            continue;
        }
        for (std::size_t i = pivot.rows_from; i < pivot.rows_to; ++i) {
            right_[rows_[i]] -= at(rows_[i], pivot.column) * value;
        }
    }
    for (auto pivot = pivots_.rbegin(); pivot != pivots_.rend(); ++pivot) {
        double sum = right_[pivot->row];
        for (std::size_t j = pivot->columns_from; j < pivot->columns_to; ++j) {
            sum -= at(pivot->row, columns_[j]) * x[columns_[j]];
        }
        x[pivot->column] = sum / at(pivot->row, pivot->column);
    }
}

} // namespace railside
