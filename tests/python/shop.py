# SPDX-License-Identifier: MIT
"""The program under test, a small shop for it to work on, and how to catch it at a moment of its work."""

import os
import pathlib
import re
import signal
import subprocess
import time

PROGRAM = os.environ["ARRIS_PROGRAM"]
SOURCE = pathlib.Path(os.environ["ARRIS_SOURCE_DIR"])


def wear_laws():
    """Names of the wear laws that a configuration can name, each with its header."""
    folder = SOURCE / "sim" / "laws" / "wear"
    registry = re.findall(r'^#include "sim/laws/wear/(\w+\.hpp)"$', (folder / "registry.hpp").read_text(), re.M)
    return {re.search(r'law_name = "([^"]+)"', (folder / name).read_text()).group(1): folder / name for name in registry}


# invented: an iron of a tool room that is not there
IRON = """
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
"""
SHOP = IRON + """\
[output]
reading_limit_gf = 250
[edge.A]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 60 },
  { strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 20 },
  { read = "new", replicates = 2 },
  { cut = "teak", passes = 60 },
  { read = "worn", replicates = 2 },
]
"""


def hear(sent=signal.SIGINT):
    """What a shell starts with & does not hear Ctrl-C, nor what that starts in turn."""
    signal.signal(sent, signal.SIG_DFL)


def begun(folder, words, sent=signal.SIGINT):
    """The program at work; it hears the signal `sent`."""
    return subprocess.Popen([PROGRAM, *map(str, words)], cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=lambda: hear(sent))


def state(process):
    """What the system says of a process that has not been waited for."""
    return dict(re.findall(r"^(\w+):\t(.*)$", pathlib.Path(f"/proc/{process.pid}/status").read_text(), re.M))


def wait_until(process, moment, at_most_s=60.0):
    """Until the moment has come, or the process has ended."""
    ends = time.monotonic() + at_most_s
    while process.poll() is None and not moment():
        assert time.monotonic() < ends, "the moment does not come"
        time.sleep(0.002)


def wait_until_it_hears(process, sent=signal.SIGINT):
    """Until the program has a handler for a signal: before, the signal would end it as it ends any program."""
    wait_until(process, lambda: int(state(process)["SigCgt"], 16) >> (sent - 1) & 1)


def held(folder, words, moment, begin_again=lambda: None):
    """The program as it stands at a moment of its work, until SIGCONT. On a busy machine it may be over before it is held: then it is
    begun again, after what `begin_again` does."""
    for _ in range(20):
        process = begun(folder, words)
        wait_until(process, moment)
        process.send_signal(signal.SIGSTOP)
        while process.poll() is None:
            if state(process)["State"].startswith("T"):
                return process
            time.sleep(0.001)
        process.communicate()
        begin_again()
    raise AssertionError("it was always over before it could be held")
