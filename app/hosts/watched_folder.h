// Watches a folder that pictures arrive in (a camera's card, a phone's sync folder), with its
// subfolders one and two deep (DCIM/100XXXXX), for new finished JPEG and PNG files. The folder may
// go and come back: the card is taken out and put in again.
#pragma once

#include <chrono>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

namespace railside {

enum class FolderState {
    watching,
    missing,    // looked for again and again
    unreadable, // there, but may not or cannot be read; tried again and again
};

class WatchedFolder {
  public:
    struct Times {
        /// Size and time of a file have stood still so long: it is finished, if its end is there.
        std::chrono::milliseconds still{700};
        /// So long, where the end of the picture is not there (other data may follow it).
        std::chrono::milliseconds still_without_end{3000};
        /// How often is looked whether the folder is another now; and, where the system does not
        /// tell what arrives (network, cards), at every file.
        std::chrono::milliseconds look{3000};
        /// Whether the system is asked to tell at all (inotify).
        bool told = true;
    };

    /// Starts a thread of its own. What lies there when the folder is first seen is already there,
    /// not new. `wake` is called from the thread when take() has something or the state changed.
    WatchedFolder(const std::filesystem::path& folder, std::function<void()> wake);
    WatchedFolder(const std::filesystem::path& folder, std::function<void()> wake, Times times);
    /// Ends at once, whatever the thread waits for.
    ~WatchedFolder();
    WatchedFolder(const WatchedFolder&) = delete;
    WatchedFolder& operator=(const WatchedFolder&) = delete;

    /// Finished pictures that are new since the last call, in the order in which they were
    /// finished. Each is told once; a file of that name counts as another when its size changed.
    /// Names starting with a dot or ending in .tmp, .part, .crdownload or .partial and what does
    /// not begin as a JPEG or PNG are passed over; links are never followed.
    [[nodiscard]] std::vector<std::filesystem::path> take();

    [[nodiscard]] FolderState state() const;
    /// The state for the person, and what to do.
    [[nodiscard]] std::string sentence() const;
    /// Pictures, by their first bytes, that lay there when the folder was first seen.
    [[nodiscard]] std::size_t already_there() const;
    [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

  private:
    class Watch;
    std::filesystem::path folder_;
    std::unique_ptr<Watch> watch_;
};

} // namespace railside
