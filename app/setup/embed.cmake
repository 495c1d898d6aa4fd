# railside_embed(TARGET NAME FILE): builds a file's bytes into TARGET.
# The target and what links to it may then include "NAME.h", which declares
#   extern const unsigned char railside::k_NAME[];   the bytes, with one zero byte after the last
#   extern const unsigned railside::k_NAME_size;     their count, without that zero byte
# NAME is a C++ identifier. A changed FILE is built in again. A relative FILE is under the calling directory.
#
# Run as a script (cmake -DFILE=... -DNAME=... -DOUTPUT=... -P embed.cmake) it writes the .cpp.

if(CMAKE_SCRIPT_MODE_FILE STREQUAL CMAKE_CURRENT_LIST_FILE)
  file(READ "${FILE}" bytes HEX)
  string(LENGTH "${bytes}" size)
  math(EXPR size "${size} / 2")
  string(REPEAT "[0-9a-f]" 64 line)
  string(REGEX REPLACE "(${line})" "\\1\n" bytes "${bytes}")
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${bytes}")
  file(WRITE "${OUTPUT}"
    "#include \"${NAME}.h\"\nnamespace railside {\nconst unsigned char k_${NAME}[] = {\n${bytes}0};\nconst unsigned k_${NAME}_size = ${size};\n}\n")
  return()
endif()

set(RAILSIDE_EMBED_SCRIPT "${CMAKE_CURRENT_LIST_FILE}" CACHE INTERNAL "")

function(railside_embed TARGET NAME FILE)
  get_filename_component(file "${FILE}" ABSOLUTE BASE_DIR "${CMAKE_CURRENT_SOURCE_DIR}")
  set(dir "${CMAKE_BINARY_DIR}/embed/${TARGET}")
  file(CONFIGURE OUTPUT "${dir}/${NAME}.h" CONTENT
"#pragma once
namespace railside {
extern const unsigned char k_${NAME}[];
extern const unsigned k_${NAME}_size;
}
")
  add_custom_command(OUTPUT "${dir}/${NAME}.cpp"
    COMMAND ${CMAKE_COMMAND} "-DFILE=${file}" -DNAME=${NAME} "-DOUTPUT=${dir}/${NAME}.cpp"
            -P "${RAILSIDE_EMBED_SCRIPT}"
    DEPENDS "${file}" "${RAILSIDE_EMBED_SCRIPT}"
    COMMENT "Embedding ${NAME}"
    VERBATIM)
  target_sources(${TARGET} PRIVATE "${dir}/${NAME}.cpp")
  set_source_files_properties("${dir}/${NAME}.cpp" PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  target_include_directories(${TARGET} SYSTEM PUBLIC "${dir}")
endfunction()
