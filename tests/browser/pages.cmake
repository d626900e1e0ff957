# Runs short scenarios and writes every kind of page of them, with the programs as built. Histories are computed again
# only where the program is newer; pages always.
function(run)
  execute_process(COMMAND ${ARGN} WORKING_DIRECTORY ${OUT} COMMAND_ERROR_IS_FATAL ANY OUTPUT_QUIET)
endfunction()
function(history file command scenario)
  if(NOT EXISTS ${OUT}/${file} OR ${PROGRAM} IS_NEWER_THAN ${OUT}/${file} OR ${scenario} IS_NEWER_THAN ${OUT}/${file})
    run(${PROGRAM} ${command} ${scenario} -o ${file} --quiet --force ${ARGN})
  endif()
endfunction()

file(MAKE_DIRECTORY ${OUT})
set(scenarios ${SOURCE}/scenarios)
history(brake.h5 simulate ${scenarios}/dragging-brake.yaml)
history(retorque.h5 simulate ${scenarios}/retorque-after-80-km.yaml)
history(loose.h5 simulate ${scenarios}/one-loose-stud.yaml)
history(plan.h5 plan ${scenarios}/retorque-after-80-km.yaml --retorques 1 --after "1 d, 80 km, 1 week")
# Studies of the second for two weeks: along one axis, over two, and a sample.
file(READ ${scenarios}/retorque-after-80-km.yaml wheel)
string(REGEX REPLACE "weeks: [0-9]+" "weeks: 2" wheel "${wheel}")
function(study name command more)
  # Written only where it changed: its time tells whether the study is to be made again.
  file(CONFIGURE OUTPUT ${OUT}/${name}.yaml CONTENT "${wheel}${more}" @ONLY)
  history(${name}.h5 ${command} ${OUT}/${name}.yaml ${ARGN})
endfunction()
set(thickness "  - {path: joint/stack/*/*_side/thickness, values: [20 um, 80 um, 140 um]}\n")
study(sweep sweep "\nvary:\n${thickness}")
study(maps sweep "\nvary:\n${thickness}  - {path: tightening/torque, from: 400 N*m, to: 650 N*m, steps: 6}\n")
study(sample sample "\nscatter:
  - {path: tightening/friction/thread, normal: {mean: 0.12, sd: 0.015}, low: 0.08, high: 0.2, each: stud}
  - {path: joint/stack/*/*_side/thickness, uniform: {low: 40 um, high: 140 um}}\n" --count 12 --sensitivity)

foreach(name brake retorque loose)
  run(${REPORT} page ${name}.h5 -o ${name}.html --force)
  run(${REPORT} sheet ${name}.h5 -o sheet-${name}.html --force)
endforeach()
run(${REPORT} sheet retorque.h5 -o sheet-us.html --units us --force)
run(${REPORT} page retorque.h5 -o us.html --units us --force)
run(${REPORT} page brake.h5 retorque.h5 loose.h5 -o compare.html --force)
foreach(name sweep maps sample)
  run(${REPORT} page ${name}.h5 -o ${name}.html --force)
endforeach()
run(${REPORT} page plan.h5 -o plan.html --force)
run(${REPORT} lesson plan.h5 -o lesson.html --force)
