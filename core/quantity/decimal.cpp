#include "core/quantity/decimal.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cfloat>
#include <cmath>
#include <cstddef>
#include <limits>

namespace railside {
namespace {

// A whole number of up to 2752 bits: the longest needed is 2^53 · 5^1074, 2547 bits.
class BigWhole {
  public:
    explicit BigWhole(std::uint64_t x) {
        while (x != 0) {
            limbs_[count_++] = static_cast<std::uint32_t>(x);
            x >>= 32U;
        }
    }

    [[nodiscard]] bool is_zero() const { return count_ == 0; }

    [[nodiscard]] int bits() const {
        return count_ == 0 ? 0
                           : static_cast<int>(32 * count_) - std::countl_zero(limbs_[count_ - 1]);
    }

    void multiply(std::uint32_t factor) {
        std::uint64_t carry = 0;
        for (std::size_t i = 0; i < count_; ++i) {
            carry += static_cast<std::uint64_t>(limbs_[i]) * factor;
            limbs_[i] = static_cast<std::uint32_t>(carry);
            carry >>= 32U;
        }
        if (carry != 0) {
            limbs_[count_++] = static_cast<std::uint32_t>(carry);
        }
    }

    void multiply_power(std::uint32_t base, int power) {
        // The largest power of 5 and of 10 below 2^32 have exponents 13 and 9.
        const int most = base == 5 ? 13 : 9;
        while (power > 0) {
            const int step = std::min(power, most);
            std::uint32_t factor = 1;
            for (int i = 0; i < step; ++i) {
                factor *= base;
            }
            multiply(factor);
            power -= step;
        }
    }

    void shift_left(int by) {
        if (by <= 0 || count_ == 0) {
            return;
        }
        const auto limbs = static_cast<std::size_t>(by) / 32;
        const auto rest = static_cast<unsigned>(by) % 32;
        if (rest != 0) {
            multiply(std::uint32_t{1} << rest);
        }
        if (limbs != 0) {
            std::copy_backward(limbs_.begin(), limbs_.begin() + static_cast<std::ptrdiff_t>(count_),
                               limbs_.begin() + static_cast<std::ptrdiff_t>(count_ + limbs));
            std::fill_n(limbs_.begin(), limbs, 0U);
            count_ += limbs;
        }
    }

    /// Returns the remainder.
    std::uint32_t divide(std::uint32_t divisor) {
        std::uint64_t rest = 0;
        for (std::size_t i = count_; i-- > 0;) {
            rest = (rest << 32U) | limbs_[i];
            limbs_[i] = static_cast<std::uint32_t>(rest / divisor);
            rest %= divisor;
        }
        trim();
        return static_cast<std::uint32_t>(rest);
    }

    [[nodiscard]] bool at_least(const BigWhole& other) const {
        if (count_ != other.count_) {
            return count_ > other.count_;
        }
        for (std::size_t i = count_; i-- > 0;) {
            if (limbs_[i] != other.limbs_[i]) {
                return limbs_[i] > other.limbs_[i];
            }
        }
        return true;
    }

    /// Only when at_least(other).
    void subtract(const BigWhole& other) {
        std::uint64_t borrow = 0;
        for (std::size_t i = 0; i < count_; ++i) {
            const std::uint64_t take = borrow + (i < other.count_ ? other.limbs_[i] : 0U);
            borrow = limbs_[i] < take ? 1 : 0;
            limbs_[i] = static_cast<std::uint32_t>(limbs_[i] - take);
        }
        trim();
    }

  private:
    void trim() {
        while (count_ > 0 && limbs_[count_ - 1] == 0) {
            --count_;
        }
    }

    std::array<std::uint32_t, 86>
        limbs_{}; // least significant first; those from count_ on are stale
    std::size_t count_ = 0;
};

constexpr int k_precision = std::numeric_limits<double>::digits;                          // 53
constexpr int k_least_exponent = std::numeric_limits<double>::min_exponent - k_precision; // −1074
constexpr int k_most_exponent = std::numeric_limits<double>::max_exponent;                // 1024
constexpr int k_fast_power = 22; // 10^22 is the last exact one

constexpr std::array<double, k_fast_power + 1> k_powers = {
    1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

double divide_out(std::uint64_t digits, int exponent) {
    BigWhole top(digits);
    BigWhole bottom(1);
    (exponent >= 0 ? top : bottom).multiply_power(10, std::abs(exponent));

    // Scale by a power of two until bottom <= top < 2·bottom; the quotient is then 1.xxx · 2^power.
    int power = top.bits() - bottom.bits();
    (power >= 0 ? bottom : top).shift_left(std::abs(power));
    if (!top.at_least(bottom)) {
        top.shift_left(1);
        --power;
    }
    // A subnormal has fewer bits; below half the least one there is none at all (the rounding bit
    // still counts).
    const int wanted = std::min(k_precision, power - k_least_exponent + 1);
    if (wanted < 0) {
        return 0;
    }
    if (power >= k_most_exponent) {
        return std::numeric_limits<double>::infinity();
    }
    std::uint64_t bits = 0;
    for (int i = 0; i <= wanted; ++i) { // one more than wanted, to round by
        bits <<= 1U;
        if (top.at_least(bottom)) {
            top.subtract(bottom);
            bits |= 1U;
        }
        top.shift_left(1);
    }
    const bool half = (bits & 1U) != 0;
    bits >>= 1U;
    if (half && (!top.is_zero() || (bits & 1U) != 0)) {
        ++bits;
    }
    return std::ldexp(static_cast<double>(bits), power - wanted + 1);
}

/// All decimal digits of a finite double, most significant first.
class Expansion {
  public:
    explicit Expansion(double value) : negative_(std::signbit(value)) {
        int power = 0;
        const double fraction = std::frexp(std::abs(value), &power);
        auto mantissa = static_cast<std::uint64_t>(std::ldexp(fraction, k_precision));
        if (mantissa == 0) {
            negative_ = false;
            return;
        }
        power -= k_precision;
        const int zeros = std::countr_zero(mantissa);
        mantissa >>= static_cast<unsigned>(zeros);
        power += zeros;

        BigWhole whole(mantissa);
        if (power >= 0) {
            whole.shift_left(power);
        } else {
            whole.multiply_power(5, -power);
        }
        // Filled from the back, nine digits at a time.
        first_ = digits_.size();
        while (!whole.is_zero()) {
            std::uint32_t part = whole.divide(1'000'000'000U);
            for (int i = 0; i < 9; ++i) {
                digits_[--first_] = static_cast<char>('0' + part % 10);
                part /= 10;
            }
        }
        while (digits_[first_] == '0') {
            ++first_;
        }
        exponent_ = static_cast<int>(digits_.size() - first_) - 1 + std::min(power, 0);
    }

    /// The first `count` digits, rounded half to even; more than there are is filled up with zeros.
    [[nodiscard]] Decimal rounded(int count) const {
        const auto available = static_cast<int>(digits_.size() - first_);
        Decimal result;
        if (available == 0) {
            result.digits.assign(static_cast<std::size_t>(std::max(count, 1)), '0');
            return result;
        }
        result.exponent = exponent_;
        result.negative = negative_;
        const int kept = std::clamp(count, 0, available);
        const auto* begin = digits_.data() + first_;
        result.digits.assign(begin, static_cast<std::size_t>(kept));
        if (count >= 0 && kept < available && rounds_up(kept)) {
            carry_into(result, count);
        }
        if (count > 0) {
            result.digits.resize(static_cast<std::size_t>(count), '0');
        }
        return result.digits.empty() ? Decimal{} : result;
    }

    [[nodiscard]] bool is_zero() const { return first_ == digits_.size(); }
    [[nodiscard]] int exponent() const { return exponent_; }

  private:
    /// Whether what follows the first `kept` digits makes the last of them one more.
    [[nodiscard]] bool rounds_up(int kept) const {
        const auto next = first_ + static_cast<std::size_t>(kept);
        if (digits_[next] != '5') {
            return digits_[next] > '5';
        }
        if (std::any_of(digits_.begin() + static_cast<std::ptrdiff_t>(next) + 1, digits_.end(),
                        [](char c) { return c != '0'; })) {
            return true;
        }
        return kept > 0 && (digits_[next - 1] - '0') % 2 == 1;
    }

    static void carry_into(Decimal& result, int count) {
        auto at = result.digits.size();
        while (at > 0 && result.digits[at - 1] == '9') {
            result.digits[--at] = '0';
        }
        if (at > 0) {
            ++result.digits[at - 1];
            return;
        }
        result.digits.insert(result.digits.begin(), '1');
        ++result.exponent;
        if (count > 0) {
            result.digits.resize(static_cast<std::size_t>(count));
        }
    }

    std::array<char, 784> digits_{}; // 767 is the most a double has; nine at a time needs up to 774
    std::size_t first_ = digits_.size();
    int exponent_ = 0;
    bool negative_ = false;
};

} // namespace

double nearest_double(std::uint64_t digits, int exponent) {
    if (digits == 0) {
        return 0;
    }
    if (exponent < -400) { // below 10^(20−400)
        return 0;
    }
    if (exponent > 400) {
        return std::numeric_limits<double>::infinity();
    }
    // Wider registers would round twice.
    if constexpr (FLT_EVAL_METHOD == 0) {
        if (digits <= (std::uint64_t{1} << k_precision) && std::abs(exponent) <= k_fast_power) {
            const auto whole = static_cast<double>(digits);
            const double power = k_powers[static_cast<std::size_t>(std::abs(exponent))];
            return exponent < 0 ? whole / power : whole * power;
        }
    }
    return divide_out(digits, exponent);
}

Decimal decimal_to_digits(double value, int count) {
    return Expansion(value).rounded(std::clamp(count, 1, 17));
}

Decimal decimal_to_power(double value, int power) {
    const Expansion all(value);
    if (all.is_zero()) {
        return Decimal{};
    }
    Decimal result = all.rounded(all.exponent() - power + 1);
    // A carry out of the first digit ("99" to "10", one power up) leaves the last place short.
    const int places = result.exponent - power + 1;
    if (result != Decimal{} && places > static_cast<int>(result.digits.size())) {
        result.digits.resize(static_cast<std::size_t>(places), '0');
    }
    return result;
}

Decimal shortest_decimal(double value) {
    const Expansion all(value);
    for (int count = 1; count < 17; ++count) {
        Decimal candidate = all.rounded(count);
        std::uint64_t digits = 0;
        for (const char c : candidate.digits) {
            digits = digits * 10 + static_cast<std::uint64_t>(c - '0');
        }
        if (nearest_double(digits, candidate.exponent - count + 1) == std::abs(value)) {
            return candidate;
        }
    }
    return all.rounded(17);
}

std::string positional(const Decimal& decimal, int shift, Grouping grouping) {
    constexpr const char* k_thin_space = "\u2009";
    const std::string& digits = decimal.digits;
    const bool is_zero = digits.find_first_not_of('0') == std::string::npos;
    const int exponent = is_zero ? 0 : decimal.exponent + shift;

    const auto whole_size = static_cast<std::size_t>(std::max(exponent + 1, 0));
    std::string whole = digits.substr(0, whole_size);
    whole.resize(std::max<std::size_t>(whole_size, 1), '0');
    std::string fraction(static_cast<std::size_t>(std::max(-exponent - 1, 0)), '0');
    fraction += digits.substr(std::min(whole_size, digits.size()));

    const std::size_t from = grouping == Grouping::figures ? 5 : 4;
    if (grouping != Grouping::none && whole.size() >= from) {
        for (std::size_t at = whole.size(); at > 3;) {
            at -= 3;
            whole.insert(at, k_thin_space);
        }
    }
    if (grouping == Grouping::sentence && fraction.size() >= 5) {
        for (std::size_t at = (fraction.size() - 1) / 3 * 3; at > 0; at -= 3) {
            fraction.insert(at, k_thin_space);
        }
    }
    return fraction.empty() ? whole : whole + '.' + fraction;
}

} // namespace railside
