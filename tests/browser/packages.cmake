# Installs what package-lock.json names beside a copy of it in the build folder, so that the source stays clean.
foreach(file package.json package-lock.json)
  configure_file(${SOURCE}/${file} ${OUT}/${file} COPYONLY)
endforeach()
execute_process(COMMAND ${NPM} ci --no-audit --no-fund WORKING_DIRECTORY ${OUT} COMMAND_ERROR_IS_FATAL ANY)
