# Writes the table of checks and its short form again and compares them with the committed files.
set(table ${OUT}/VERIFICATION.md)
set(short ${OUT}/checks_short.json)
file(REMOVE ${table} ${short})
execute_process(
  COMMAND ${CMAKE_COMMAND} -E env CLAMPFADE_CHECKS_OUT=${table} CLAMPFADE_CHECKS_SHORT_OUT=${short} ${PROGRAM}
  RESULT_VARIABLE failed OUTPUT_VARIABLE said ERROR_VARIABLE complained)
if(failed)
  message(FATAL_ERROR "The checks themselves fail (${failed}):\n${said}${complained}")
endif()

function(compare fresh committed)
  execute_process(COMMAND ${CMAKE_COMMAND} -E compare_files ${fresh} ${committed} RESULT_VARIABLE differs)
  if(differs)
    execute_process(COMMAND diff -u0 ${committed} ${fresh} OUTPUT_VARIABLE changes ERROR_VARIABLE none)
    string(SUBSTRING "${changes}" 0 4000 changes)
    message(FATAL_ERROR "${committed} is not what the checks give now. If the change is meant, refresh and commit:\n"
      "  cp ${table} ${SOURCE}/tests/VERIFICATION.md\n"
      "  cp ${short} ${SOURCE}/post/checks_short.json\n"
      "The report prints the short form that it was built with, so build again.\n${changes}")
  endif()
endfunction()
compare(${table} ${SOURCE}/tests/VERIFICATION.md)
compare(${short} ${SOURCE}/post/checks_short.json)

# The report must print what is committed, not what an older build had.
execute_process(COMMAND ${REPORT} checks --json RESULT_VARIABLE failed OUTPUT_FILE ${OUT}/checks_report.json)
if(failed)
  message(FATAL_ERROR "clampfade-report checks --json fails (${failed})")
endif()
compare(${OUT}/checks_report.json ${SOURCE}/post/checks_short.json)
