#!/bin/bash
# Writes the inputs that fuzzing starts from, a folder a target, and scenario.dict, the words of a scenario:
# seeds.sh FOLDER. All of it comes from the scenarios and tests of the source.
set -euo pipefail
source=$(cd "$(dirname "$0")/../.." && pwd)
out=$1
rm -rf "$out"
mkdir -p "$out"/{scenario,trace,records,readings,fit_data,history,report,classroom_json}

for file in "$source"/scenarios/*.yaml "$source"/tests/input_errors/*.yaml "$source"/tests/input_errors/whole.scenario \
  "$source"/tests/regression/cases/*.yaml; do
  cp "$file" "$out/scenario/$(basename "$file")"
done
cp "$source"/tests/input_errors/trace_*.csv "$source"/scenarios/trace-day.csv "$out/trace/"
cp "$source"/tests/input_errors/records_*.csv "$source"/scenarios/{recorded-tightening,fleet-records}.csv "$out/records/"
cp "$source"/scenarios/{fleet-checks,study-tool-scatter-check}.csv "$out/readings/"
cp "$source"/scenarios/fit-painted-coupon*.csv "$out/fit_data/"

# Edits of good files (edited_file.hpp): none, a value, an attribute, a dataset gone, another in its place, a byte.
for kind in 0 1 2 3 4 5; do
  octal=$(printf '%03o' $kind)
  i=0
  for edits in '\000' '\002\000\001\000\000\004' '\003\003\000\000\003\003\002\001' '\002\004\005' \
    '\003\006\007\002\001\001\002' '\000\020\000\077' '\002\003\001\000\001\001\011' '\000\100\000\356'; do
    # The second byte of the report's is what is made of the file.
    for made in 0 1 2 3 4 5; do
      printf "\\$octal\\00$made$edits" >"$out/report/$kind-$i-$made"
    done
    [ $kind -lt 2 ] && printf "\\$octal$edits" >"$out/history/$kind-$i"
    i=$((i + 1))
  done
done

printf '{}' >"$out/classroom_json/default"
printf '{"torque": 500, "paint": "primer", "wheel": "aluminium", "route": "highway", "coupled": false}' \
  >"$out/classroom_json/words"
printf '{"end": 604800, "acts": [{"kind": "retorque", "time": 86400}, {"kind": "remove_nut", "time": 90000, "stud": 3}]}' \
  >"$out/classroom_json/acts"
printf '{"paint_thickness": 8e-5, "disc_thickness": 0.012, "spacer": 0.02, "spring_washers": true, "sleeve": false, "stops": 100, "full_mass": 26000, "working_days": 5, "start_day": 100, "thread_friction": 0.12, "bearing_friction": 0.12, "pilot_clearance": 6e-4}' \
  >"$out/classroom_json/all"

# Every key that the declarations know, every unit and word that stands beside them.
{
  grep -oE '`[a-z][a-z_0-9]*`' "$source/scenarios/SCHEMA.md" | tr -d '`' | sort -u | sed 's/.*/"&: "/'
  printf '"%s"\n' ' mm' ' um' ' kN' ' N*m' ' lbf*ft' ' MPa' ' degC' ' h' ' d' ' km' ' kg' ' 1/K' ' kJ/mol' ' %' \
    '\x0a- ' '\x0a  ' '[' ']' '{' '}' ', ' '&a ' '*a' '!!' '<<: ' '|\x0a' '"' '.nan' '1e308' '-0' '~' 'true' '..' '/*/'
} >"$out/scenario.dict"
