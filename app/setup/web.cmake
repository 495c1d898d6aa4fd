# For the browser (emscripten): the libraries of others, as the targets that find_package makes elsewhere.
#
# The system's own include folder must not be on emscripten's path: it holds another C library's headers. So the trees
# that are headers only stand, as links, in a folder of their own. SQLite is compiled in, from its single source file.
set(stage "${CMAKE_BINARY_DIR}/headers")
file(MAKE_DIRECTORY "${stage}")

# railside_headers(TARGET TREE [UNDER]): the headers in /usr/include/[UNDER/]TREE, included as TREE/...
function(railside_headers target tree)
  set(from "")
  foreach(base /usr/include/${ARGN} /usr/local/include/${ARGN} /opt/homebrew/include/${ARGN})
    if(NOT from AND IS_DIRECTORY "${base}/${tree}")
      set(from "${base}/${tree}")
    endif()
  endforeach()
  if(NOT from)
    message(FATAL_ERROR "The headers ${tree} are not there. On Debian run app/setup/packages.sh web.")
  endif()
  file(CREATE_LINK "${from}" "${stage}/${tree}" SYMBOLIC)
  add_library(${target} INTERFACE IMPORTED GLOBAL)
  target_include_directories(${target} SYSTEM INTERFACE "${stage}")
endfunction()

railside_headers(fmt::fmt-header-only fmt)
set_target_properties(fmt::fmt-header-only PROPERTIES INTERFACE_COMPILE_DEFINITIONS FMT_HEADER_ONLY=1)
railside_headers(nlohmann_json::nlohmann_json nlohmann)
railside_headers(Eigen3::Eigen Eigen eigen3)
railside_headers(Boost::headers boost)

set(RAILSIDE_SQLITE_DIR "${CMAKE_SOURCE_DIR}/.build/sources/sqlite" CACHE PATH "Where sqlite3.c and sqlite3.h are")
if(NOT EXISTS "${RAILSIDE_SQLITE_DIR}/sqlite3.c")
  message(FATAL_ERROR "SQLite's source is not in ${RAILSIDE_SQLITE_DIR}: run app/setup/sources.sh web.")
endif()
# Its files live in memory and belong to one page: no log beside the database, no locks, no threads.
add_library(railside_sqlite STATIC "${RAILSIDE_SQLITE_DIR}/sqlite3.c")
target_include_directories(railside_sqlite SYSTEM PUBLIC "${RAILSIDE_SQLITE_DIR}")
target_compile_definitions(railside_sqlite PRIVATE SQLITE_THREADSAFE=0 SQLITE_OMIT_WAL SQLITE_OMIT_LOAD_EXTENSION
  SQLITE_ENABLE_FTS5 SQLITE_DQS=0 SQLITE_OMIT_DEPRECATED SQLITE_OMIT_SHARED_CACHE SQLITE_OMIT_DECLTYPE
  SQLITE_DEFAULT_MEMSTATUS=0 SQLITE_MAX_EXPR_DEPTH=0 SQLITE_LIKE_DOESNT_MATCH_BLOBS)
target_compile_options(railside_sqlite PRIVATE -w)
add_library(SQLite::SQLite3 ALIAS railside_sqlite)

# Exceptions as the browser has them itself: calls that may throw stay plain calls.
add_compile_options(-fwasm-exceptions)
add_link_options(-fwasm-exceptions)
