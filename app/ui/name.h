// A control's name put together without touching the heap: Name("step/", key).
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

namespace railside {

class Name {
  public:
    template <class... Parts> explicit Name(const Parts&... parts) {
        (add(std::string_view(parts)), ...);
    }
    operator std::string_view() const { return {text_.data(), size_}; }

  private:
    void add(std::string_view part) {
        for (const char c : part)
            if (size_ < text_.size())
                text_[size_++] = c;
    }
    std::array<char, 96> text_{};
    std::size_t size_ = 0;
};

} // namespace railside
