# SPDX-License-Identifier: MIT
"""Ctrl-C stops what takes long, and other threads of Python go on meanwhile."""

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time

import numpy as np
from conftest import YARD

import arris

# takes minutes if nothing stops it
LONG = """
    import arris, sys
    campaign = arris.load(sys.argv[1])
    print("begun", flush=True)
    try:
        {call}
    except KeyboardInterrupt:
        print("stopped", flush=True)
        assert not arris.simulate(campaign).failures     # and goes on as if nothing had been
        sys.exit(7)
"""


def hear_ctrl_c():
    """What a shell starts with & does not hear it, nor what that starts in turn."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def stops(call):
    script = textwrap.dedent(LONG).format(call=call)
    process = subprocess.Popen([sys.executable, "-B", "-c", script, str(YARD)], stdout=subprocess.PIPE, text=True, env=os.environ, preexec_fn=hear_ctrl_c)
    assert process.stdout.readline() == "begun\n"
    time.sleep(0.7)
    sent = time.monotonic()
    process.send_signal(signal.SIGINT)
    out, _ = process.communicate(timeout=30)
    assert out == "stopped\n"
    assert process.returncode == 7
    return time.monotonic() - sent


def test_ctrl_c_stops_a_fit():
    # a look at signals every 50 ms, and the histories of one evaluation; then a simulation: a second at most, ten on a busy machine
    assert stops("arris.fit(campaign, starts=4000)") < 10


def test_ctrl_c_stops_a_forecast():
    assert stops("arris.forecast(campaign, members=200000)") < 10


def test_other_threads_go_on(yard):
    ticks = []
    done = threading.Event()

    def tick():
        while not done.is_set():
            ticks.append(time.monotonic())
            time.sleep(0.005)

    clock = threading.Thread(target=tick)
    clock.start()
    begun = time.monotonic()
    values = np.random.default_rng(1).uniform(28, 38, (3000, 1))
    arris.simulate_many(yard, ["tool.O1 jack iron.micro_bevel_deg"], values)
    ended = time.monotonic()
    done.set()
    clock.join()
    during = [t for t in ticks if begun < t < ended]
    # were the interpreter lock held, there would be none; one in 50 ms is far below one in 5
    assert len(during) > (ended - begun) / 0.05
