#include "core/store/resize.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>

namespace railside {

namespace {

constexpr std::size_t k_channels = 4;

/// The source pixels that one smaller pixel covers along one axis, with the share of each.
struct Cover {
    int first = 0;
    std::vector<double> shares;
};

std::vector<Cover> covers(int from, int to) {
    std::vector<Cover> all(static_cast<std::size_t>(to));
    for (int i = 0; i < to; ++i) {
        const double begin = static_cast<double>(i) * from / to;
        const double end = static_cast<double>(i + 1) * from / to;
        Cover& cover = all[static_cast<std::size_t>(i)];
        cover.first = static_cast<int>(begin);
        for (int pixel = cover.first; pixel < from && pixel < end; ++pixel)
            cover.shares.push_back(
                (std::min<double>(end, pixel + 1) - std::max<double>(begin, pixel)) /
                (end - begin));
    }
    return all;
}

} // namespace

Picture shrunk(Picture picture, int longest) {
    if (std::max(picture.width, picture.height) <= longest)
        return picture;
    return shrunk(picture.rgba, picture.width, picture.height, longest);
}

Picture shrunk(std::span<const std::uint8_t> rgba, int width, int height, int longest) {
    const int side = std::max(width, height);
    if (side <= longest)
        return {width, height, {rgba.begin(), rgba.end()}};
    Picture small;
    const auto scaled = [&](int length) {
        return std::max(
            1, static_cast<int>(std::lround(static_cast<double>(length) * longest / side)));
    };
    small.width = scaled(width);
    small.height = scaled(height);
    small.rgba.resize(static_cast<std::size_t>(small.width) *
                      static_cast<std::size_t>(small.height) * k_channels);

    const std::vector<Cover> across = covers(width, small.width);
    const std::vector<Cover> down = covers(height, small.height);
    const std::size_t from_stride = static_cast<std::size_t>(width) * k_channels;
    const std::size_t to_stride = static_cast<std::size_t>(small.width) * k_channels;
    std::vector<double> row(to_stride);
    for (std::size_t y = 0; y < down.size(); ++y) {
        std::fill(row.begin(), row.end(), 0.0);
        for (std::size_t k = 0; k < down[y].shares.size(); ++k) {
            const std::uint8_t* from =
                rgba.data() + (static_cast<std::size_t>(down[y].first) + k) * from_stride;
            for (std::size_t x = 0; x < across.size(); ++x) {
                const std::uint8_t* pixel =
                    from + static_cast<std::size_t>(across[x].first) * k_channels;
                for (const double share : across[x].shares) {
                    const double weight = share * down[y].shares[k];
                    for (std::size_t c = 0; c < k_channels; ++c)
                        row[x * k_channels + c] += weight * pixel[c];
                    pixel += k_channels;
                }
            }
        }
        for (std::size_t i = 0; i < to_stride; ++i)
            small.rgba[y * to_stride + i] =
                static_cast<std::uint8_t>(std::clamp(row[i] + 0.5, 0.0, 255.0));
    }
    return small;
}

Picture upright(Picture picture, int orientation) {
    if (orientation < 2 || orientation > 8)
        return picture;
    const bool on_its_side = orientation >= 5;
    // Where the upright picture's pixel lies in the stored one: along each axis from the far end or
    // not.
    const bool from_right =
        orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8;
    const bool from_bottom =
        orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7;
    Picture turned;
    turned.width = on_its_side ? picture.height : picture.width;
    turned.height = on_its_side ? picture.width : picture.height;
    turned.rgba.resize(picture.rgba.size());
    std::uint8_t* to = turned.rgba.data();
    for (int y = 0; y < turned.height; ++y)
        for (int x = 0; x < turned.width; ++x) {
            const int column = on_its_side ? y : x;
            const int line = on_its_side ? x : y;
            const int from_x = from_right ? picture.width - 1 - column : column;
            const int from_y = from_bottom ? picture.height - 1 - line : line;
            const std::size_t at =
                (static_cast<std::size_t>(from_y) * static_cast<std::size_t>(picture.width) +
                 static_cast<std::size_t>(from_x)) *
                k_channels;
            to = std::copy_n(picture.rgba.data() + at, k_channels, to);
        }
    return turned;
}

void flatten(Picture& picture) {
    for (std::size_t i = 0; i + k_channels <= picture.rgba.size(); i += k_channels) {
        const unsigned alpha = picture.rgba[i + 3];
        if (alpha == 255)
            continue;
        for (std::size_t c = 0; c < 3; ++c)
            picture.rgba[i + c] = static_cast<std::uint8_t>(
                (picture.rgba[i + c] * alpha + 255 * (255 - alpha) + 127) / 255);
        picture.rgba[i + 3] = 255;
    }
}

} // namespace railside
