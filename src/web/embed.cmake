# cmake -DOUT=assets_data.c "-DFILES=a;b" -P embed.cmake: the files as one C table, see assets.h.
# Scripts and styles without the blanks that begin a line and without lines that are only a comment:
# a sixth of what a page weighs. So no text of a script may go over the end of a line.
set(types_html "text/html; charset=utf-8")
set(types_css "text/css; charset=utf-8")
set(types_js "text/javascript; charset=utf-8")
set(types_svg "image/svg+xml")
set(arrays "")
set(rows "")
set(number 0)
string(REPEAT "." 80 sixteen) # "0x00," sixteen times
foreach(file IN LISTS FILES)
  get_filename_component(name ${file} NAME)
  get_filename_component(extension ${file} LAST_EXT)
  string(SUBSTRING "${extension}" 1 -1 extension)
  if(NOT DEFINED types_${extension})
    message(FATAL_ERROR "${name}: no media type is known for .${extension}; add one to embed.cmake")
  endif()
  file(READ ${file} hex HEX)
  string(REGEX REPLACE "(..)" "0x\\1," bytes "${hex}")
  if(extension MATCHES "js|css")
    string(REGEX REPLACE "0x0a,(0x20,)+" "0x0a," bytes "${bytes}")
  endif()
  if(extension STREQUAL "js")
    string(REGEX REPLACE "0x0a,0x2f,0x2f,(0x(0[0-9b-f]|[1-9a-f][0-9a-f]),)*" "" bytes "${bytes}")
  endif()
  string(LENGTH "${bytes}" length)
  math(EXPR length "${length} / 5")
  string(REGEX REPLACE "(${sixteen})" "\\1\n" bytes "${bytes}")
  string(SHA256 hash "${bytes}")
  string(SUBSTRING ${hash} 0 16 hash)
  string(APPEND arrays "static const unsigned char bytes_${number}[] = {\n${bytes}};\n")
  string(APPEND rows
         "    {\"${name}\", \"${types_${extension}}\", \"\\\"${hash}\\\"\", "
         "{bytes_${number}, ${length}}},\n")
  math(EXPR number "${number} + 1")
endforeach()
file(WRITE ${OUT}
"/* Made by embed.cmake. */
#include \"web/assets.h\"

#include <string.h>

${arrays}
static const struct rp_web_asset assets[] = {
${rows}};

const struct rp_web_asset *rp_web_asset_at(size_t index)
{
    return index < sizeof assets / sizeof assets[0] ? &assets[index] : NULL;
}

const struct rp_web_asset *rp_web_asset_find(const char *name)
{
    for (size_t i = 0; i < sizeof assets / sizeof assets[0]; i++) {
        if (strcmp(assets[i].name, name) == 0) {
            return &assets[i];
        }
    }
    return NULL;
}
")
