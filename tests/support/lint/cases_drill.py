"""Drills by what their rounds can come to: both sides of each limit."""

from tests.support.lint.cases_rig import FULL
from tests.support.lint.inspected import Case

OWN = '[clean]\nturned = "own"'
GOAL = "[goal]\nclean = 8"

CASES = [
    Case("one_round_at_full_speed", FULL, drill="rounds = 12\nhalf_speed = 11\n"),
    Case("no_round_at_full_speed", FULL, drill="rounds = 12\nhalf_speed = 12   #! never_counts\n"),
    Case("what_follows_from_it_is_not_told", FULL,
         drill=f"rounds = 12\nhalf_speed = 12   #! never_counts\n{OWN}\n{GOAL}\nof = 10\n"),
    Case("a_goal_just_in_reach", FULL, drill=f"rounds = 12\nhalf_speed = 4\n{GOAL}\nof = 10\n"),
    Case("a_goal_just_out_of_reach", FULL,
         drill=f"rounds = 12\nhalf_speed = 5\n{GOAL}   #! goal_beyond\nof = 10\n"),
    Case("one_round_by_the_own_limit", FULL, drill=f"rounds = 8\nhalf_speed = 2\n{OWN}\n"),
    Case("none_by_the_own_limit", FULL, drill=f"rounds = 7\nhalf_speed = 2\n{OWN}   #! own_limit_idle\n"),
    Case("a_limit_for_all_is_never_idle", FULL, drill='rounds = 3\nhalf_speed = 2\n[clean]\nturned = "2s"\n'),
]
