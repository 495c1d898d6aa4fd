# The page: the program as WebAssembly, and the folder .build/web/site that any web server can give out as it is.
set(hosts ${CMAKE_CURRENT_SOURCE_DIR}/hosts)
file(GLOB web_hosts CONFIGURE_DEPENDS ${hosts}/web*.cpp)
add_library(railside_hosts STATIC ${web_hosts} ${hosts}/session.cpp ${hosts}/wake.cpp ${hosts}/worker.cpp
  ${hosts}/watched_folder.cpp ${hosts}/camera.cpp ${hosts}/gl_painter.cpp
  ${RAILSIDE_IMGUI_DIR}/backends/imgui_impl_opengl3.cpp)
set_source_files_properties(${RAILSIDE_IMGUI_DIR}/backends/imgui_impl_opengl3.cpp PROPERTIES COMPILE_OPTIONS "-w")
target_compile_definitions(railside_hosts PRIVATE IMGUI_IMPL_OPENGL_ES3)
target_include_directories(railside_hosts SYSTEM PRIVATE ${RAILSIDE_IMGUI_DIR}/backends)
target_link_libraries(railside_hosts PUBLIC railside_flags railside_words railside_imgui)

add_library(railside_app STATIC ${room_sources})
target_link_libraries(railside_app PUBLIC railside_ui railside_hosts railside_suspects)

set(railside_exports _main _malloc _free)
add_executable(railside-web ${CMAKE_CURRENT_SOURCE_DIR}/web/main.cpp)
set_target_properties(railside-web PROPERTIES OUTPUT_NAME railside SUFFIX .js RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}
  LINK_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/web/calls.js)
target_link_libraries(railside-web PRIVATE railside_app railside_hosts)
list(JOIN railside_exports "," exports)
target_link_options(railside-web PRIVATE
  "SHELL:--js-library ${CMAKE_CURRENT_SOURCE_DIR}/web/calls.js"
  -sMODULARIZE=1 -sEXPORT_NAME=RailsideModule -sENVIRONMENT=web -sMINIFY_HTML=0 -sDYNAMIC_EXECUTION=0
  -sEXPORTED_FUNCTIONS=${exports} -sEXPORTED_RUNTIME_METHODS=FS,UTF8ToString,stringToUTF8,lengthBytesUTF8
  -sMIN_WEBGL_VERSION=2 -sMAX_WEBGL_VERSION=2
  -sINITIAL_MEMORY=48MB -sALLOW_MEMORY_GROWTH=1 -sMAXIMUM_MEMORY=512MB -sTOTAL_STACK=1MB -sFILESYSTEM=1 -sFORCE_FILESYSTEM=1
  -sEXIT_RUNTIME=0)

find_program(RAILSIDE_NODE NAMES node nodejs REQUIRED NO_CMAKE_FIND_ROOT_PATH)
set(web ${CMAKE_CURRENT_SOURCE_DIR}/web)
set(icons ${CMAKE_BINARY_DIR}/icons)
add_custom_command(OUTPUT ${icons}/icon-192.png COMMAND ${RAILSIDE_NODE} ${web}/icons.mjs ${icons}
  DEPENDS ${web}/icons.mjs COMMENT "Drawing the icons" VERBATIM)
file(GLOB page_files CONFIGURE_DEPENDS ${web}/*.js ${web}/*.html ${web}/*.webmanifest ${web}/pack.mjs)
set(site ${CMAKE_BINARY_DIR}/site)
set(RAILSIDE_WORDS "" CACHE FILEPATH "A catalogue made from assets/words/railside.pot that the page is to speak by")
add_custom_command(OUTPUT ${site}/sw.js
  COMMAND ${RAILSIDE_NODE} ${web}/pack.mjs ${web} ${CMAKE_BINARY_DIR} ${icons} ${site} ${RAILSIDE_WORDS}
  DEPENDS ${RAILSIDE_WORDS} railside-web ${icons}/icon-192.png ${page_files} COMMENT "Putting the page's folder together" VERBATIM)
add_custom_target(railside_site ALL DEPENDS ${site}/sw.js)
