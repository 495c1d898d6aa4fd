// The main function of a test binary under Catch2 v2; v3 brings its own in Catch2::Catch2WithMain.
#if !__has_include(<catch2/catch_all.hpp>)
#if defined(__GNUC__) && !defined(__clang__)
// g++ 12 with sanitizers warns inside <regex>, which v2's main uses; there is nothing of ours in
// this file.
#pragma GCC diagnostic ignored "-Wmaybe-uninitialized"
#endif
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
#endif
