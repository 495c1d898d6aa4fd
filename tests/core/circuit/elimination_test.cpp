#include "core/circuit/elimination.h"

#include "support/catch.h"

#include <algorithm>
#include <cmath>
#include <cstdint>

using namespace railside;

namespace {

/// Numbers from −1 to 1, the same on every machine.
class Draw {
  public:
    double next() {
        state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<double>(state_ >> 11U) / 4503599627370496.0 - 1;
    }

  private:
    std::uint64_t state_ = 7;
};

/// A circuit's shape: conductances in a chain with some across, over twelve decades, and a source
/// whose row has nothing on the diagonal.
Eigen::MatrixXd circuit_like(int n, Draw& draw) {
    Eigen::MatrixXd a = Eigen::MatrixXd::Zero(n, n);
    const auto conductance = [&](int i, int j) {
        const double s = std::pow(10, 6 * draw.next() - 3);
        a(i, i) += s;
        a(j, j) += s;
        a(i, j) -= s;
        a(j, i) -= s;
    };
    for (int i = 0; i + 2 < n; ++i) {
        conductance(i, i + 1);
        a(i, i) += 1e-9;
    }
    for (int i = 0; i < n / 2; ++i)
        conductance(i, (i * 7 + 3) % (n - 1));
    a(n - 2, n - 2) += 1e-9;
    a(n - 1, n / 3) = 1;
    a(n / 3, n - 1) = 1;
    return a;
}

} // namespace

TEST_CASE("elimination: agrees with full pivoting, in the order found for other values too",
          "[core][circuit]") {
    Draw draw;
    for (const int n : {3, 10, 45}) {
        Elimination elimination;
        elimination.begin(n);
        for (int turn = 0; turn < 40; ++turn) {
            // Places change from turn to turn, and values by decades.
            const Eigen::MatrixXd a = circuit_like(n, draw);
            Eigen::VectorXd wanted(n);
            for (int i = 0; i < n; ++i)
                wanted[i] = 40 * draw.next();
            const Eigen::VectorXd right = a * wanted;
            REQUIRE(elimination.factor(a));
            Eigen::VectorXd x = Eigen::VectorXd::Zero(n);
            elimination.solve(right, x);
            // As small a remainder as the full way leaves, within what an order costs.
            const Eigen::VectorXd full = a.fullPivLu().solve(right);
            const double scale = a.cwiseAbs().maxCoeff() * wanted.cwiseAbs().maxCoeff();
            INFO("n " << n << " turn " << turn);
            CHECK((a * x - right).cwiseAbs().maxCoeff() <=
                  std::max(100 * (a * full - right).cwiseAbs().maxCoeff(), 1e-12 * scale));
            Eigen::VectorXd again = Eigen::VectorXd::Zero(n);
            elimination.solve(2 * right, again);
            CHECK((again - 2 * x).cwiseAbs().maxCoeff() <= 1e-9 * x.cwiseAbs().maxCoeff());
        }
    }
}

TEST_CASE("elimination: a singular matrix is told, and does no harm to the next",
          "[core][circuit]") {
    Elimination elimination;
    elimination.begin(3);
    Eigen::MatrixXd a(3, 3);
    a << 1, -1, 0, -1, 1, 0, 0, 0, 2;
    CHECK_FALSE(elimination.factor(a));
    a(0, 0) = 2;
    REQUIRE(elimination.factor(a));
    Eigen::VectorXd right(3);
    right << 1, 0, 4;
    Eigen::VectorXd x(3);
    elimination.solve(right, x);
    CHECK(x[0] == Approx(1));
    CHECK(x[1] == Approx(1));
    CHECK(x[2] == Approx(2));
}
