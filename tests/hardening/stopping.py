"""Runs and studies that were stopped on the way, as files to go on from."""

import signal
import time

from harness import attribute


def stop_on_the_way(bench, args, path, after, number=signal.SIGTERM):
    """Starts, waits until the file is there and some time more, sends the signal. Exit code."""
    child = bench.start(args, path.parent)
    end = time.time() + 30
    while not path.exists() and child.poll() is None and time.time() < end:
        time.sleep(0.002)
    time.sleep(after)
    if child.poll() is None:
        child.send_signal(number)
    child.communicate(timeout=120)
    return child.returncode


def stopped(bench, args, path, status):
    """A file whose run was stopped. A stop that comes too late is tried again, sooner."""
    after = 0.05
    for _ in range(20):
        path.unlink(missing_ok=True)
        stop_on_the_way(bench, args, path, after)
        if path.exists() and attribute(path, "status") == status:
            return path
        after *= 0.7
    raise SystemExit(f"no run could be stopped on its way: {args}")


def stopped_run(bench, path, m):
    return stopped(bench, [bench.program, "simulate", m.dir / "wheel.yaml", "-o", path, "--quiet"], path, "stopped")


def stopped_study(bench, path, m):
    return stopped(bench, [bench.program, "sweep", m.dir / "study.yaml", "-o", path, "--quiet", "--jobs", "1"], path,
                   "stopped")
