// Linear equations of a circuit, solved again and again with other values in the same places.
//
// Gaussian elimination in an order that is found once: pivots after H. M. Markowitz (Management
// Science 3, 1957), least fill first, among the entries of a column that are no smaller than a
// tenth of its largest. A circuit's matrix has a handful of entries a row, so that an elimination
// costs some hundreds of multiplications where a full one costs n³/3. When the values have moved so
// far that a pivot is a thousand times smaller than another entry of its column, the order is found
// anew.
#pragma once

#include <Eigen/Dense>

#include <cstddef>
#include <vector>

namespace railside {

class Elimination {
  public:
    using Matrix = Eigen::MatrixXd;
    using Vector = Eigen::VectorXd;

    /// For n equations. Allocates all it will ever need.
    void begin(int n);
    /// Factors. False when the matrix is singular.
    [[nodiscard]] bool factor(const Matrix& matrix);
    /// After factor(): x with matrix · x = right.
    void solve(const Vector& right, Vector& x);

  private:
    struct Pivot {
        int row = 0;
        int column = 0;
        std::size_t rows_from = 0; // into rows_: those below it with an entry in its column
        std::size_t rows_to = 0;
        std::size_t columns_from = 0; // into columns_: those right of it in its row
        std::size_t columns_to = 0;
    };
    [[nodiscard]] double& at(int row, int column) {
        return values_[static_cast<std::size_t>(row) * static_cast<std::size_t>(n_) +
                       static_cast<std::size_t>(column)];
    }
    [[nodiscard]] char& there(int row, int column) {
        return pattern_[static_cast<std::size_t>(row) * static_cast<std::size_t>(n_) +
                        static_cast<std::size_t>(column)];
    }
    [[nodiscard]] bool covered(const Matrix& matrix);
    [[nodiscard]] bool order(const Matrix& matrix);
    [[nodiscard]] bool pick(Pivot& pivot);
    void eliminate(const Pivot& pivot);
    [[nodiscard]] bool eliminate_all(const Matrix& matrix);

    int n_ = 0;
    bool ordered_ = false;
    std::vector<double> values_; // by row; below the pivots the factors
    std::vector<char> entries_;  // by row: ever seen other than 0
    std::vector<char> pattern_;  // by row: entries, and what elimination fills
    std::vector<int> cells_;     // row, column of the pattern, in turn
    std::vector<Pivot> pivots_;
    std::vector<int> rows_;
    std::vector<int> columns_;
    std::vector<char> row_done_;
    std::vector<char> column_done_;
    Vector right_;
};

} // namespace railside
