// What a call that can fail gives back: the value, or an Error with a sentence for the person.
#pragma once

#include <cassert>
#include <string>
#include <utility>
#include <variant>

namespace railside {

enum class ErrorCode {
    bad_text,      // the text is not a value of the accepted form
    out_of_range,  // understood, but outside the accepted range
    missing,       // a required value was not given
    contradictory, // values that cannot hold together
    not_found,     // nothing of that name
    refused,       // understood and well formed, but not accepted here
    busy,          // in use by another running copy
    damaged,       // the file or the photo is not what it claims to be
    failed,        // the system said no (disk full, no permission, ...)
};

/// A refusal. `field` names what was refused (a field's label, a file); `message` is a whole
/// sentence that names the value, the reason and the accepted form or range.
struct Error {
    ErrorCode code = ErrorCode::failed;
    std::string field;
    std::string message;

    friend bool operator==(const Error&, const Error&) = default;
};

/// For calls that give nothing back but may fail.
struct Done {
    friend bool operator==(const Done&, const Done&) = default;
};

template <class T> class [[nodiscard]] Result {
  public:
    Result(T value) : held_(std::in_place_index<0>, std::move(value)) {}
    Result(Error error) : held_(std::in_place_index<1>, std::move(error)) {}

    [[nodiscard]] bool ok() const { return held_.index() == 0; }
    explicit operator bool() const { return ok(); }

    /// Only when ok().
    [[nodiscard]] T& value() & {
        assert(ok());
        return *std::get_if<0>(&held_);
    }
    [[nodiscard]] const T& value() const& {
        assert(ok());
        return *std::get_if<0>(&held_);
    }
    /// By value, so that a loop over what a call gives back holds on to it.
    [[nodiscard]] T value() && {
        assert(ok());
        return std::move(*std::get_if<0>(&held_));
    }
    T* operator->() { return &value(); }
    const T* operator->() const { return &value(); }
    T& operator*() & { return value(); }
    const T& operator*() const& { return value(); }

    /// Only when not ok().
    [[nodiscard]] const Error& error() const {
        assert(!ok());
        return *std::get_if<1>(&held_);
    }

  private:
    std::variant<T, Error> held_;
};

} // namespace railside
