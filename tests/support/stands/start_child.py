"""Gives starts at given times: ``python start_child.py RIG write|read TIMES``, TIMES in ms as a JSON list.

Begins at once; prints the result as JSON.
"""

import json
import sys

import msgspec

from tocsin.features.measure.start.measurement import StartRequest, measure_start

rig, what, given = sys.argv[1:]
times_ns = [ms * 1_000_000 for ms in json.loads(given)]
wish = StartRequest(rig=rig, times=len(times_ns), now=True, write=what == "write")
result = measure_start(wish, lambda line: None, json_output=True, times_ns=times_ns)
sys.stdout.write(msgspec.json.encode(result).decode() + "\n")
sys.exit(result.exit)
