// Samples from a WAV file: a RIFF container with plain PCM or IEEE float samples.
//
// Sources: Multimedia Programming Interface and Data Specifications 1.0 (1991), RIFF and WAVE;
// Multiple Channel Audio Data and WAVE Files (2001), for WAVE_FORMAT_EXTENSIBLE. The rules stand in
// recording.md.
#pragma once

#include "core/capture/recording.h"

namespace railside {

/// Whether the bytes begin as a RIFF container of any kind does.
[[nodiscard]] bool looks_like_wav(std::string_view bytes);

/// Reads samples as fractions of full scale; `name` leads the refusals. Errors: damaged (names the
/// chunk and what was expected of it), refused (an encoding that is not plain samples).
[[nodiscard]] Result<Recording> read_wav(std::string_view bytes, std::string_view name);

} // namespace railside
