"""Render the code with which the box reads a plan.

    python -m tests.support.firmware_plan

writes `src/firmware/plan.h` from the templates of the C export; a test holds it equal.
"""

from tests.support import PROJECT
from tocsin.export.box.block import plan_header

PLAN_H = PROJECT / "src" / "firmware" / "plan.h"

if __name__ == "__main__":
    PLAN_H.parent.mkdir(exist_ok=True)
    PLAN_H.write_text(plan_header(), encoding="utf-8")
