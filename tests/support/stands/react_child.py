"""Plays one short block of a reaction test, its order given: ``python react_child.py PLAN RIG RUNS ORDER``.

ORDER is JSON, a list of [channels, wait in ms]. Prints the result as JSON.
"""

import json
import sys
from pathlib import Path

import msgspec

from tocsin.analysis.reactions.order import Trial, TrialOrder
from tocsin.features.reactions.run import ReactionRequest, run_react

plan, rig, runs, given = sys.argv[1:]
trials = tuple(
    Trial(no=no, block=1, practice=False, condition=tuple(channels), wait_ns=wait_ms * 1_000_000)
    for no, (channels, wait_ms) in enumerate(json.loads(given))
)
conditions = tuple(dict.fromkeys(trial.condition for trial in trials if trial.condition))
order = TrialOrder(seed=0, full=False, conditions=conditions, trials=trials)
wish = ReactionRequest(plan=plan, rig=rig, runs=Path(runs), who="Ann", seed=0)
result = run_react(wish, lambda line: print(line, file=sys.stderr), json_output=True, order=order)
sys.stdout.write(msgspec.json.encode(result).decode() + "\n")
sys.exit(result.exit)
