#include "app/hosts/web.h"
#include "app/hosts/web_calls.h"

#include <emscripten.h>

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

namespace railside {

namespace {

/// FNV-1a, 64 bits: tells one picture's bytes from another's for a moment, nothing more.
std::uint64_t fingerprint(std::span<const std::byte> bytes) {
    std::uint64_t hash = 0xcbf29ce484222325U;
    for (const std::byte byte : bytes)
        hash = (hash ^ std::to_integer<std::uint64_t>(byte)) * 0x100000001b3U;
    return hash;
}

class PageOutside final : public WebOutside {
  public:
    void ask_files(Ask what) override { railside_page_ask(static_cast<int>(what)); }
    void give(const std::string& path) override { railside_page_give(path.c_str()); }
    [[nodiscard]] std::string outbox() const override { return "/out"; }

    void picture(const std::string& hash, int longest, GotImage got) override {
        const int ticket = ++ticket_;
        images_[ticket] = std::move(got);
        railside_page_picture(hash.c_str(), longest, ticket);
    }
    void bring(const std::vector<std::string>& hashes, Bring what, Brought then) override {
        const int ticket = ++ticket_;
        brought_[ticket] = std::move(then);
        std::string lines;
        for (const std::string& hash : hashes)
            lines += hash + '\n';
        railside_page_bring(lines.c_str(), what == Bring::pictures ? 1 : 0, ticket);
    }
    [[nodiscard]] bool kept() const override { return under_way_ == 0; }
    [[nodiscard]] std::string trouble() const override { return trouble_; }
    [[nodiscard]] std::string safety() const override { return safety_; }
    [[nodiscard]] bool may_write() const override { return may_write_; }

    void write_line(std::string_view line) override {
        ++under_way_;
        railside_page_line(std::string(line).c_str());
    }
    void write_file(std::string_view hash, std::span<const std::byte> bytes) override {
        ++under_way_;
        railside_page_file(std::string(hash).c_str(), bytes.data(),
                           static_cast<unsigned>(bytes.size()));
    }
    [[nodiscard]] std::optional<Image> decoded(std::span<const std::byte> bytes) override {
        const auto at = held_.find(fingerprint(bytes));
        if (at == held_.end())
            return std::nullopt;
        return at->second;
    }

    // What the page answers.
    void image(int ticket, Result<Image> image) {
        auto node = images_.extract(ticket);
        if (!node.empty())
            node.mapped()(std::move(image));
    }
    void there(int ticket, const Result<Done>& result) {
        auto node = brought_.extract(ticket);
        if (!node.empty())
            node.mapped()(result);
        held_.clear();
        railside_page_brought_used(ticket);
    }
    void arrived(int count) { under_way_ = std::max(0, under_way_ - count); }
    void set_trouble(std::string words) { trouble_ = std::move(words); }
    void set_safety(std::string words) { safety_ = std::move(words); }
    void set_may_write(bool may) { may_write_ = may; }
    void hold(std::span<const std::byte> bytes, Image image) {
        held_[fingerprint(bytes)] = std::move(image);
    }
    void let_go() { held_.clear(); }

  private:
    int ticket_ = 0;
    std::map<int, GotImage> images_;
    std::map<int, Brought> brought_;
    std::map<std::uint64_t, Image> held_;
    int under_way_ = 0;
    bool may_write_ = true;
    std::string trouble_;
    std::string safety_;
};

PageOutside& page() {
    static PageOutside k_page;
    return k_page;
}

std::span<const std::byte> bytes_at(const void* bytes, int size) {
    return {static_cast<const std::byte*>(bytes), static_cast<std::size_t>(size)};
}

Outside::Image image_at(int width, int height, const std::uint8_t* rgba) {
    Outside::Image image{width, height, {}};
    image.rgba.assign(rgba, rgba + static_cast<std::size_t>(width) *
                                       static_cast<std::size_t>(height) * 4);
    return image;
}

} // namespace

WebOutside& web_outside() { return page(); }

} // namespace railside

using namespace railside; // NOLINT(google-build-using-namespace): C functions follow

extern "C" {

/// `rgba` null: `why` says what is wrong.
EMSCRIPTEN_KEEPALIVE void web_image(int ticket, int width, int height, const std::uint8_t* rgba,
                                    const char* why) {
    if (rgba != nullptr)
        page().image(ticket, image_at(width, height, rgba));
    else
        page().image(ticket, Error{ErrorCode::damaged, "photo", why});
    railside_page_wake();
}

/// `why` empty: the files are there, until this returns.
EMSCRIPTEN_KEEPALIVE void web_brought(int ticket, const char* why) {
    const std::string words = why;
    page().there(ticket, words.empty() ? Result<Done>(Done{})
                                       : Error{ErrorCode::not_found, "files", words});
}

/// So many lines and files are safe.
EMSCRIPTEN_KEEPALIVE void web_arrived(int count) { page().arrived(count); }

EMSCRIPTEN_KEEPALIVE void web_trouble(const char* words) { page().set_trouble(words); }
EMSCRIPTEN_KEEPALIVE void web_safety(const char* words) { page().set_safety(words); }
EMSCRIPTEN_KEEPALIVE void web_may_write(int may) { page().set_may_write(may != 0); }

/// What the browser has decoded from these bytes.
EMSCRIPTEN_KEEPALIVE void web_hold(const void* bytes, int size, int width, int height,
                                   const std::uint8_t* rgba) {
    page().hold(bytes_at(bytes, size), image_at(width, height, rgba));
}
EMSCRIPTEN_KEEPALIVE void web_let_go() { page().let_go(); }

} // extern "C"
