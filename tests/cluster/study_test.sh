#!/bin/bash
# Submits the job scripts of scenarios/cluster to a Slurm of one node that this script starts and stops: a study in three
# parts, of which one is killed and one cancelled on the way and which are submitted again. The whole must be the same,
# bit for bit, as that of one run on one machine. See README.md.
#   study_test.sh PROGRAM SOURCE
set -euo pipefail
program=$(realpath "$1")
source=$(realpath "$2")
PATH=$PATH:/usr/sbin
limit=300 # seconds for everything

started=$SECONDS
work=$(mktemp -d /tmp/clampfade-cluster-XXXXXX) # short, for sockets; nobody else writes there
chmod 711 "$work"                               # munged wants its socket to be reachable
results=$work/results
daemons=()

say() { printf '%4d s  %s\n' $((SECONDS - started)) "$*"; }

# Ends the program if it has not ended by itself when the time is up.
bounded() {
  local left=$((started + limit - SECONDS))
  timeout --kill-after=5 $((left > 1 ? left : 1)) "$@"
}

fail() {
  say "FAILED: $*"
  for log in "$work"/*.log "$results"/*.log; do
    [ -e "$log" ] && echo "--- ${log##*/}" && tail -n 15 "$log"
  done
  exit 1
}

# Everything that was started here, by the configuration that it inherited.
export SLURM_CONF=$work/slurm.conf
ours() {
  local folder
  for folder in /proc/[0-9]*; do
    if grep -qaF "SLURM_CONF=$work/" "$folder/environ" 2>/dev/null; then
      echo "${folder#/proc/}"
    fi
  done
}
kill_ours() {
  local pid
  for pid in $(ours); do
    kill -KILL "$pid" 2>/dev/null || true
  done
}

# Clears up after this script where it dies without its trap.
guard() {
  trap '' INT TERM HUP
  while kill -0 $$ 2>/dev/null; do
    sleep 1
  done
  kill_ours
  sleep 0.5
  kill_ours
  rm -rf "$work"
}
guard </dev/null >/dev/null 2>&1 &
guarded=$!

stop_all() {
  trap - EXIT INT TERM HUP
  set +e
  if [ ${#daemons[@]} -gt 1 ]; then
    timeout 5 scancel --user="$(id -un)" >/dev/null 2>&1
    for _ in $(seq 30); do
      [ -z "$(timeout 5 squeue --noheader 2>/dev/null)" ] && break
      sleep 0.2
    done
  fi
  local pid
  for ((i = ${#daemons[@]} - 1; i >= 0; --i)); do
    pid=${daemons[i]}
    kill "$pid" 2>/dev/null
    for _ in $(seq 25); do
      kill -0 "$pid" 2>/dev/null || break
      sleep 0.2
    done
    kill -KILL "$pid" 2>/dev/null
    wait "$pid" 2>/dev/null
  done
  kill -KILL "$guarded"
  wait "$guarded" 2>/dev/null
  kill_ours # jobs outlive the daemon that started them
  rm -rf "$work"
}
trap stop_all EXIT
trap 'exit 130' INT TERM HUP

# wait_for WHAT COMMAND...: until the command succeeds.
wait_for() {
  local what=$1
  shift
  until "$@"; do
    [ $((SECONDS - started)) -lt $limit ] || fail "no $what within $limit s"
    sleep 0.2
  done
}

free_port() {
  local port
  for _ in $(seq 100); do
    port=$((20000 + RANDOM % 12000)) # below those that the system gives out
    if [ "$port" != "${1:-}" ] && ! (exec 3<>"/dev/tcp/127.0.0.1/$port") 2>/dev/null; then
      echo "$port"
      return
    fi
  done
  return 1
}

# What it says before it opens its own log goes to another.
daemon() {
  "$@" >>"$work/start.log" 2>&1 &
  daemons+=($!)
}

idle() {
  local queue
  queue=$(timeout 10 squeue --noheader) && [ -z "$queue" ]
}
in_state() { timeout 10 scontrol show job "$1" | grep -q "JobState=$2"; }
node_ready() { [ "$(timeout 10 sinfo --noheader --format=%t 2>/dev/null)" = idle ]; }

# Cases of a study file that are complete.
export HDF5_USE_FILE_LOCKING=FALSE
done_cases() { h5dump -y -w 1 -A 0 -d /status "$1" | grep -cE '^ *1,?$' || true; }
attribute() { h5dump -a "/$2" "$1" | sed -n 's/^ *(0): "\(.*\)"$/\1/p'; }
has_done() { [ -e "$1" ] && [ "$(done_cases "$1")" -gt 0 ]; }

# The process that works on a part.
worker() {
  local folder words
  for folder in /proc/[0-9]*; do
    mapfile -d '' -t words 2>/dev/null <"$folder/cmdline" || continue
    if [ "${words[0]:-}" = "$program" ] && [[ " ${words[*]} " == *" $results/part-$1.h5 "* ]]; then
      echo "${folder#/proc/}"
    fi
  done
}

# --- The study: the shipped one at every stop, so that a case takes a while ------------------------------------------
mkdir "$results"
cp "$source"/scenarios/cluster/* "$work/"
sed '/^duty:/i solution: {resolution: every-stop}\n' "$source/scenarios/study-tool-scatter.yaml" >"$work/wheel.yaml"
grep -q every-stop "$work/wheel.yaml" || fail "the study is not what this test expects"

# A file is brought up to date every quarter of a minute, and the part must be killed after that and before its end.
begin=$(date +%s%N)
bounded "$program" sample "$work/wheel.yaml" --count 6 --jobs 1 --quiet --output "$work/pace.h5" >"$work/pace.log" 2>&1
pace=$((($(date +%s%N) - begin) / 6000000)) # ms a case
mine=$((20000 / (pace > 0 ? pace : 1)))
mine=$((mine < 20 ? 20 : mine > 5000 ? 5000 : mine))
count=$((3 * mine))
say "$count cases of $pace ms in 3 parts"

begin=$SECONDS
bounded "$program" sample "$work/wheel.yaml" --count $count --quiet --output "$work/one.h5" >"$work/one.log" 2>&1
say "the run on one machine took $((SECONDS - begin)) s"

cat >"$work/study.sh" <<END
program=$program
study=(sample $work/wheel.yaml --count $count)
parts=3
results=$results
part_options=(--cpus-per-task=1 --time=5)
merge_options=(--cpus-per-task=1 --time=5)
END

# --- Slurm on one node, everything on the loopback and in the work folder --------------------------------------------
host=$(hostname -s)
user=$(id -un)
control=$(free_port)
node=$(free_port "$control")
cat >"$work/slurm.conf" <<END
ClusterName=clampfade
SlurmctldHost=$host(127.0.0.1)
SlurmctldPort=$control
SlurmdPort=$node
CommunicationParameters=NoCtldInAddrAny,NoInAddrAny
SlurmUser=$user
SlurmdUser=$user
AuthType=auth/munge
CredType=cred/munge
AuthInfo=socket=$work/munge.socket
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
ProctrackType=proctrack/pgid
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
SlurmdParameters=config_overrides
JobAcctGatherType=jobacct_gather/none
AccountingStorageType=accounting_storage/none
MpiDefault=none
MailProg=/bin/true
ReturnToService=2
KillWait=10
NodeName=$host NodeAddr=127.0.0.1 CPUs=2 State=UNKNOWN
PartitionName=test Nodes=$host Default=YES MaxTime=10 State=UP
END
mkdir "$work/state" "$work/spool"
(umask 077 && head -c 1024 /dev/urandom >"$work/munge.key")
daemon munged --foreground --socket="$work/munge.socket" --key-file="$work/munge.key" --pid-file="$work/munged.pid" \
  --log-file="$work/munged.log" --seed-file="$work/munged.seed"
wait_for "munged" test -S "$work/munge.socket"
daemon slurmctld -D -f "$work/slurm.conf"
daemon slurmd -D -f "$work/slurm.conf"
wait_for "node" node_ready
say "$(slurmctld -V) with $(munged --version | head -n 1), node up"

# --- All parts; the first is killed as by a lack of memory, the third cancelled as by the time limit ----------------
bounded bash "$work/submit.sh" >"$work/submit.log" || fail "submit.sh"
id=$(sed -n 's/^parts 1-3: job //p' "$work/submit.log")
merge=$(sed -n 's/^merge: job \([0-9]*\),.*/\1/p' "$work/submit.log")
wait_for "case of part 1" has_done "$results/part-1.h5"
pid=$(worker 1)
[[ $pid =~ ^[0-9]+$ ]] || fail "part 1 has ended before it could be killed, or not begun: '$pid'"
kill -KILL "$pid"
wait_for "end of part 1" in_state "${id}_1" FAILED
killed=$(done_cases "$results/part-1.h5")
[ "$killed" -gt 0 ] && [ "$killed" -lt "$mine" ] || fail "$killed of $mine cases of part 1 when it was killed"
[ "$(attribute "$results/part-1.h5" status)" = running ] || fail "a killed part should still say that it runs"
say "part 1 killed, $killed of $mine cases in its file"

# Earlier than the file is brought up to date by itself: what stands in it was written on the way out.
wait_for "part 3" in_state "${id}_3" RUNNING
sleep 5
timeout 10 scancel "${id}_3"
wait_for "end of part 3" in_state "${id}_3" CANCELLED
wait_for "end of all jobs" idle
[ "$(attribute "$results/part-3.h5" status)" = stopped ] || fail "the cancelled part did not write what was done"
cancelled=$(done_cases "$results/part-3.h5")
[ "$cancelled" -gt 0 ] && [ "$cancelled" -lt "$mine" ] || fail "$cancelled of $mine cases of part 3 when cancelled"
[ "$(attribute "$results/part-2.h5" status)" = complete ] || fail "part 2 was left alone and is not complete"
in_state "$merge" CANCELLED || fail "the merge should be gone with its parts"
[ ! -e "$results/whole.h5" ] || fail "parts were merged that are not complete"
say "part 3 cancelled, $cancelled of $mine cases in its file; part 2 complete, no merge"

# --- These two again ------------------------------------------------------------------------------------------------
untouched=$(stat -c '%i %Y' "$results/part-2.h5")
before=$(stat -c %i "$results/part-1.h5")
bounded bash "$work/submit.sh" 1 3 >>"$work/submit.log" || fail "submit.sh 1 3"
# The first thing a part does is to write what it takes over.
replaced() { [ "$(stat -c %i "$results/part-1.h5")" != "$before" ]; }
replaced_or_ended() { replaced || idle; }
wait_for "new state of part 1" replaced_or_ended
replaced || fail "part 1 was submitted again and did not go on"
[ "$(done_cases "$results/part-1.h5")" -ge "$killed" ] || fail "part 1 has begun anew"
wait_for "end of all jobs" idle
[ -e "$results/whole.h5" ] || fail "no merge"
[ "$(stat -c '%i %Y' "$results/part-2.h5")" = "$untouched" ] || fail "part 2 was run again"
say "parts 1 and 3 went on, all merged"

# --- The same as on one machine -------------------------------------------------------------------------------------
# Numbers as their bits (%a is exact); of the attributes only the instant of writing may differ.
dump() { h5dump -m %a "$1" | sed -e 1d -e '/^   ATTRIBUTE "created_utc" {$/,/^   }$/d'; }
dump "$work/one.h5" >"$work/one.txt"
dump "$results/whole.h5" >"$work/whole.txt"
digest=$(attribute "$work/one.h5" digest)
[ ${#digest} -eq 64 ] || fail "no digest in the run on one machine: '$digest'"
[ "$(attribute "$results/whole.h5" digest)" = "$digest" ] || fail "another digest than on one machine"
[ "$(done_cases "$results/whole.h5")" -eq $count ] || fail "not all cases are complete"
if ! cmp "$work/one.txt" "$work/whole.txt"; then
  diff "$work/one.txt" "$work/whole.txt" | head -n 20
  fail "other numbers than on one machine"
fi
say "same digest $digest; $(grep -cE '^ *DATASET "[^"]*" [{]$' "$work/one.txt") datasets with $(wc -l <"$work/one.txt") lines equal"
