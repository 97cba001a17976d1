"""The strip's controller shows each frame of a real run: its bytes are recorded from a pseudo-terminal with their
times, and replayed at the wire's pace. Replayed, since an emulated chip on a busy machine would hear them late.

`TOCSIN_WHOLE_RUN=1` plays the whole match at its own pace, nearly three minutes of it.
"""

import os
import sys

import pytest

from tests.support.firmware import line
from tests.support.firmware.chip import Script
from tests.support.firmware.toolchain import image, needs_chip
from tocsin.units import NS_PER_MS, NS_PER_S

BEGIN_NS = 1_500 * NS_PER_MS
RATE = "1" if os.environ.get("TOCSIN_WHOLE_RUN") else "20"


@needs_chip
@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
@pytest.mark.parametrize(("leds", "baud"), [(30, 115_200), (144, 250_000)])
def test_each_frame_of_a_real_match_is_shown_whole_and_in_order(tmp_path, leds, baud):
    from tests.support.firmware.recording import recorded

    chunks = recorded(tmp_path, leds, baud, "--rate", RATE)
    sent = line.frames_of(b"".join(data for _, data in chunks))
    assert len(sent) > 40
    script = Script(baud=baud, eeprom=line.eeprom(leds=leds, baud=baud, order="GRB"))
    for at_ns, data in chunks:
        script.send(BEGIN_NS + at_ns, data)
    life = script.run(image("strip"), BEGIN_NS + chunks[-1][0] + NS_PER_S)
    shown = [frame.data for frame in life.frames[1:] if len(frame.data) == 3 * leds]
    assert shown == [line.ordered(frame, "GRB") for frame in sent]
    assert (life.overruns, life.framings) == (0, 0)
