// Expressions of behavioural sources: any text, evaluated where it is understood.
#include "check.h"
#include "core/circuit/formula.h"

#include <cstdint>
#include <string_view>
#include <vector>

using namespace railside;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto formula = Formula::parse(text);
    if (!formula) {
        must_hold(!formula.error().message.empty(), "a refusal says something");
        return 0;
    }
    const std::vector<double> at(formula->inputs().size(), 0.5);
    std::vector<double> slopes(at.size());
    formula->evaluate(at, slopes);
    return 0;
}
