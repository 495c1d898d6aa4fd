# What is not ours, each as a target: railside_imgui, railside_imgui_demo, railside_stb, railside_fonts.
# Sources come from app/setup/sources.sh (Debian's signed source packages, unpacked in .build/sources);
# where those cannot be had, CMake fetches the same versions itself.
# Their include directories are SYSTEM and they take no part in our warning flags.

include(${CMAKE_CURRENT_LIST_DIR}/embed.cmake)
set(RAILSIDE_SOURCES "${CMAKE_SOURCE_DIR}/.build/sources" CACHE PATH "Where sources.sh unpacks")

# Fetches one repository at one version into the build tree; sets VARIABLE to its folder.
function(railside_fetch VARIABLE NAME)
  find_package(Git QUIET)
  if(NOT GIT_FOUND)
    message(FATAL_ERROR "${NAME} is not there: run app/setup/sources.sh with a network, "
      "or install git so that it can be fetched from its home.")
  endif()
  message(STATUS "${NAME} is not in ${RAILSIDE_SOURCES}: fetching it from its home (needs a network)")
  include(FetchContent)
  FetchContent_Declare(${NAME} ${ARGN})
  FetchContent_MakeAvailable(${NAME})
  set(${VARIABLE} "${${NAME}_SOURCE_DIR}" PARENT_SCOPE)
endfunction()

# Dear ImGui. Debian's library package is not used even where it is new enough: it has the backends' sources
# only as examples in its documentation, and its library is built with fonts read by a library of its own.
if(EXISTS "${RAILSIDE_SOURCES}/imgui/imgui.cpp")
  set(RAILSIDE_IMGUI_DIR "${RAILSIDE_SOURCES}/imgui")
else()
  railside_fetch(RAILSIDE_IMGUI_DIR imgui
    GIT_REPOSITORY https://github.com/ocornut/imgui.git GIT_TAG v1.90.1 GIT_SHALLOW TRUE)
endif()

add_library(railside_imgui STATIC
  ${RAILSIDE_IMGUI_DIR}/imgui.cpp
  ${RAILSIDE_IMGUI_DIR}/imgui_draw.cpp
  ${RAILSIDE_IMGUI_DIR}/imgui_tables.cpp
  ${RAILSIDE_IMGUI_DIR}/imgui_widgets.cpp
  ${RAILSIDE_IMGUI_DIR}/misc/cpp/imgui_stdlib.cpp)
target_include_directories(railside_imgui SYSTEM PUBLIC ${RAILSIDE_IMGUI_DIR} ${RAILSIDE_IMGUI_DIR}/backends)
target_compile_definitions(railside_imgui PUBLIC IMGUI_DISABLE_OBSOLETE_FUNCTIONS)

add_library(railside_imgui_demo STATIC EXCLUDE_FROM_ALL ${RAILSIDE_IMGUI_DIR}/imgui_demo.cpp)
target_link_libraries(railside_imgui_demo PUBLIC railside_imgui)

foreach(target railside_imgui railside_imgui_demo)
  # Not ours to mend: no undefined-behaviour stops and no warnings from inside it. Addresses stay checked.
  target_compile_options(${target} PRIVATE -w $<$<BOOL:${RAILSIDE_SANITIZE}>:-fno-sanitize=undefined>)
endforeach()

# stb_image 2.30 or newer and stb_image_write: an installed copy, sources.sh's, or fetched.
set(railside_stb_dir "")
foreach(dir /usr/include/stb /usr/local/include/stb "${RAILSIDE_SOURCES}/stb")
  if(NOT railside_stb_dir AND EXISTS "${dir}/stb_image.h" AND EXISTS "${dir}/stb_image_write.h")
    file(STRINGS "${dir}/stb_image.h" first_line LIMIT_COUNT 1)
    if(first_line MATCHES "stb_image - v([0-9.]+)" AND CMAKE_MATCH_1 VERSION_GREATER_EQUAL 2.30)
      set(railside_stb_dir "${dir}")
    endif()
  endif()
endforeach()
if(NOT railside_stb_dir)
  railside_fetch(railside_stb_dir stb
    GIT_REPOSITORY https://github.com/nothings/stb.git GIT_TAG 5c205738c191bcb0abc65c4febfa9bd25ff35234)
endif()
add_library(railside_stb INTERFACE)
target_include_directories(railside_stb SYSTEM INTERFACE ${railside_stb_dir})

# Fonts are built into the program, so that it needs no font file where it runs.
function(railside_find_font VARIABLE)
  find_file(${VARIABLE} NAMES ${ARGN} NO_CMAKE_FIND_ROOT_PATH
    PATHS /usr/share/fonts /usr/local/share/fonts $ENV{HOME}/.local/share/fonts $ENV{HOME}/.fonts
          /opt/homebrew/share/fonts $ENV{HOME}/Library/Fonts /Library/Fonts
    PATH_SUFFIXES opentype/b612 truetype/b612 truetype/dejavu b612 b612-fonts dejavu dejavu-sans-fonts TTF OTF)
  if(NOT ${VARIABLE})
    list(JOIN ARGN " or " wanted)
    message(FATAL_ERROR "No font file ${wanted} found. On Debian run app/setup/packages.sh "
      "(fonts-b612, fonts-dejavu-core); elsewhere install the B612 and DejaVu fonts, "
      "or name the file with -D${VARIABLE}=/path/to/the/font.")
  endif()
endfunction()
railside_find_font(RAILSIDE_FONT_B612_REGULAR B612-Regular.ttf B612-Regular.otf)
railside_find_font(RAILSIDE_FONT_B612_BOLD B612-Bold.ttf B612-Bold.otf)
railside_find_font(RAILSIDE_FONT_DEJAVU_SANS DejaVuSans.ttf)

if(EMSCRIPTEN) # what is downloaded is smaller without the scripts that its text is not in
  set(cut "${CMAKE_BINARY_DIR}/DejaVuSans.ttf")
  execute_process(COMMAND node "${CMAKE_SOURCE_DIR}/app/web/font.mjs" "${RAILSIDE_FONT_DEJAVU_SANS}" "${cut}"
    COMMAND_ERROR_IS_FATAL ANY)
  set(RAILSIDE_FONT_DEJAVU_SANS "${cut}")
endif()

add_library(railside_fonts STATIC)
railside_embed(railside_fonts b612_regular ${RAILSIDE_FONT_B612_REGULAR})
railside_embed(railside_fonts b612_bold ${RAILSIDE_FONT_B612_BOLD})
railside_embed(railside_fonts dejavu_sans ${RAILSIDE_FONT_DEJAVU_SANS})
file(CONFIGURE OUTPUT ${CMAKE_BINARY_DIR}/embed/railside_fonts/fonts.h CONTENT
"#pragma once
#include \"b612_bold.h\"
#include \"b612_regular.h\"
#include \"dejavu_sans.h\"
")
