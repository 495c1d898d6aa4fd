// What a program must leave to its surroundings where the disk, the files and the pictures' decoder
// are not its own: in a browser's page. Everything here is asked on the interface thread; answers
// that take time come within Program::news.
#pragma once

#include "core/result.h"

#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace railside {

class Outside {
  public:
    enum class Ask {
        pictures,  // one or several that exist already
        shot,      // one, taken now by the system's camera
        recording, //
        job_file,  //
        circuit,   // a netlist and its positions together; the netlist comes, the other beside it
    };
    /// Upright pixels, 8-bit RGBA, rows from the top.
    struct Image {
        int width = 0;
        int height = 0;
        std::vector<std::uint8_t> rgba;
    };
    using GotImage = std::function<void(Result<Image>)>;
    using Brought = std::function<void(Result<Done>)>;

    virtual ~Outside() = default;

    /// Has the person choose; each file then comes through Program::drop_file. Only within what a
    /// touch has caused.
    virtual void ask_files(Ask what) = 0;
    /// Hands a finished file to the person: to share, or to save.
    virtual void give(const std::string& path) = 0;
    /// The folder that files to give are written into.
    [[nodiscard]] virtual std::string outbox() const = 0;

    /// The picture kept under that name, its longer side at most `longest`.
    virtual void picture(const std::string& hash, int longest, GotImage got) = 0;
    enum class Bring {
        files,    // their bytes
        pictures, // and what they show, decoded
    };
    /// Puts the files kept under these names where the program reads them, for the time of `then`.
    virtual void bring(const std::vector<std::string>& hashes, Bring what, Brought then) = 0;

    /// Whether everything written so far will outlast the page.
    [[nodiscard]] virtual bool kept() const = 0;
    /// Why it will not, and what to do; empty while there is no trouble.
    [[nodiscard]] virtual std::string trouble() const = 0;
    /// How safe it is there, as a sentence.
    [[nodiscard]] virtual std::string safety() const = 0;
};

} // namespace railside
