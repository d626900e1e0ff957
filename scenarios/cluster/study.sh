# What is run, in how many parts and on what. This is the one file to edit; the scripts beside it read it.

# The same file for all nodes, installed on a disk that all of them see, its catalogue with it.
program=/shared/clampfade/bin/clampfade

# `sweep` or `sample`, the scenario and its options. Not among them: --part, --output, --jobs and --force, which the
# scripts give or must not give.
study=(sample study-tool-scatter.yaml --count 4096)

# Parts, one task of the array each. Leave it as it is once the study has begun: a part knows which of how many it is.
parts=8

# Folder for parts, logs and the whole, on a disk that all nodes see; from this folder on, or absolute.
results=results

# Of each part: options of sbatch. As many cases run at a time as there are processors for the part.
part_options=(--cpus-per-task=4 --mem-per-cpu=500M --time=04:00:00)
# Nodes of one kind give the same bits; on a mixed cluster name one, for example:
# part_options+=(--partition=long --constraint=NAME)

# Of the merge.
merge_options=(--cpus-per-task=1 --mem-per-cpu=2G --time=00:30:00)
