#!/bin/bash
# Hands the study of study.sh to Slurm: its parts as one array, and their merge, which waits until all went well.
#   bash submit.sh        all parts
#   bash submit.sh 3 5    parts 3 and 5 again, each from where it was, and then the merge
set -euo pipefail
cd "$(dirname "$0")"
source ./study.sh

for part in "$@"; do
  if ! [[ $part =~ ^[1-9][0-9]{0,5}$ ]] || [ "$part" -gt "$parts" ]; then
    echo "submit: '$part' is no part of this study; parts are 1 to $parts" >&2
    exit 2
  fi
done
array=1-$parts
if [ $# -gt 0 ]; then
  array=$(IFS=, && echo "$*")
fi

mkdir -p "$results"
# --parsable answers "number" or "number;cluster".
id=$(sbatch --parsable "${part_options[@]}" --array="$array" --output="$results/part-%a.log" parts.sbatch)
id=${id%%;*}
echo "parts $array: job $id"
# A merge whose parts failed would wait for ever otherwise.
merge=$(sbatch --parsable "${merge_options[@]}" --dependency="afterok:$id" --kill-on-invalid-dep=yes \
  --output="$results/merge.log" merge.sbatch)
echo "merge: job ${merge%%;*}, into $results/whole.h5"
