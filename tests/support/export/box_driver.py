"""Blocks of many plans in one program of this machine: the code of the box, asked as robot code is (robot_drivers).

The box has no texts: its firings are numbers, and the program puts the plan's own ids in their place.
"""

from pathlib import Path

from tests.support.export.robot_drivers import C_FILL, C_FLAGS, C_MAIN, C_PLAN, GCC, checked
from tocsin.export.box.block import plan_header
from tocsin.export.robot.c import text

_TOP = """
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <stdint.h>
static const uint8_t *block;
#define TOCSIN_BLOCK block
#include "plan.h"

static const char *const outcomes[] = {"played", "resumed", "called"};
static const char *const *period_ids, *const *cue_ids, *const *role_ids;

static int32_t tocsin_log(const tocsin_plan *plan, int i, char *into, int32_t size)
{
    const int firing = plan->fired[i];
    return (int32_t)snprintf(
        into, (size_t)size, "TOCSIN1 period=%s ms=%ld cue=%s n=%d role=%s outcome=%s",
        plan->log_period < 0 ? "-" : period_ids[plan->log_period], (long)plan->log_ms,
        cue_ids[tocsin_firings[firing].cue], tocsin_firings[firing].n, role_ids[tocsin_firings[firing].role],
        outcomes[plan->outcome[i]]);
}
"""
_PLAN = """
static void plan_N(char verb, int a, int b, int c)
{
    block = block_N;
    period_ids = periods_N;
    cue_ids = cues_N;
    role_ids = roles_N;
    if (tocsin_block_found())
        run_N(verb, a, b, c);
    else
        puts("NO PLAN");
}
"""


def build_box(folder: Path, tables, blocks, flags=()):
    """Compile the box's code with these blocks into one program; return its path."""
    (folder / "plan.h").write_text(plan_header(), encoding="utf-8")
    parts = [_TOP, C_FILL]
    # What needs texts is not in the box.
    plain = C_PLAN[: C_PLAN.index("    case 'd':")] + C_PLAN[C_PLAN.index("    default:") :]
    for n, (table, block) in enumerate(zip(tables, blocks, strict=True)):
        words = ", ".join(f"0x{int.from_bytes(block[at : at + 4], 'little'):08X}u" for at in range(0, len(block), 4))
        parts += [
            f"static const uint32_t words_{n}[] = {{{words}}};",          # aligned, as the chip itself does not need it
            f"#define block_{n} ((const uint8_t *)words_{n})",
            _ids(f"periods_{n}", (period.id for period in table.periods)),
            _ids(f"cues_{n}", (cue.id for cue in table.cues)),
            _ids(f"roles_{n}", table.roles),
            plain.replace("run_N", f"run_{n}"),
            _PLAN.replace("_N", f"_{n}"),
        ]
    names = ", ".join(f"plan_{n}" for n in range(len(blocks)))
    parts += [f"static void (*const plans[])(char, int, int, int) = {{{names}}};", C_MAIN]
    (folder / "main.c").write_text("\n".join(parts), encoding="utf-8")
    program = folder / "box"
    checked([GCC, *C_FLAGS, *flags, str(folder / "main.c"), "-o", str(program)])
    return program


def _ids(name, ids):
    return f"static const char *const {name}[] = {{{', '.join(map(text, ids))}}};"
