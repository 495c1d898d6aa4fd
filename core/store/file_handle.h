// A file descriptor that is closed with its holder.
#pragma once

#include <unistd.h>

namespace railside {

class FileHandle {
  public:
    FileHandle() = default;
    /// Takes over `fd`; a negative one is none.
    explicit FileHandle(int fd) : fd_(fd) {}
    FileHandle(const FileHandle&) = delete;
    FileHandle& operator=(const FileHandle&) = delete;
    ~FileHandle() { close(); }

    void close() {
        if (fd_ >= 0)
            ::close(fd_);
        fd_ = -1;
    }
    /// Closes what it held and takes over `fd`.
    void hold(int fd) {
        close();
        fd_ = fd;
    }
    [[nodiscard]] int get() const { return fd_; }
    [[nodiscard]] bool ok() const { return fd_ >= 0; }

  private:
    int fd_ = -1;
};

} // namespace railside
