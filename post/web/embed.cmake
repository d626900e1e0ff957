# Writes OUT, a C++ file that holds the given files as arrays: compilers limit the length of string literals, not of
# arrays. FILES is a list of function=path pairs, separated by |.
file(WRITE ${OUT}.part "// Made by post/web/embed.cmake.\n#include \"post/web.hpp\"\n\nnamespace clampfade::post::web {\n")
string(REPLACE "|" ";" pairs "${FILES}")
foreach(pair ${pairs})
  string(REGEX MATCH "^([a-z_]+)=(.+)$" unused "${pair}")
  set(function ${CMAKE_MATCH_1})
  file(READ ${CMAKE_MATCH_2} hex HEX)
  # "sourceMappingURL=" names another file, which a page that stands alone does not have; it becomes "no map ".
  string(REPLACE 736f757263654d617070696e6755524c3d 6e6f206d617020 hex "${hex}")
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "char(0x\\1)," bytes "${hex}")
  string(REGEX REPLACE "(................................................................................................................................................................................)" "\\1\n" bytes "${bytes}")
  file(APPEND ${OUT}.part "namespace {\nconstexpr char k_${function}[] = {\n${bytes}\nchar(0)};\n}\n"
    "std::string_view ${function}() { return {k_${function}, sizeof k_${function} - 1}; }\n")
endforeach()
file(APPEND ${OUT}.part "} // namespace clampfade::post::web\n")
file(RENAME ${OUT}.part ${OUT})
