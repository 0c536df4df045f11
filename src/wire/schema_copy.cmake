# Copies SCHEMA to OUT with proto2 in place of proto3; fails when the line is not there.
file(READ ${SCHEMA} text)
string(REPLACE "syntax = \"proto3\";" "syntax = \"proto2\";" copy "${text}")
if(copy STREQUAL text)
  message(FATAL_ERROR "no proto3 syntax line in ${SCHEMA}")
endif()
file(WRITE ${OUT} "${copy}")
