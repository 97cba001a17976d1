"""A bench file (``TOCSIN_BENCH``) that says what words the sound has ready: their cues, a line each, in the file that
``TOCSIN_BENCH_LOG`` names. Nothing else tells from outside when a run in standby is ready to speak."""

import os
from pathlib import Path

told = set()


def tick(channel, now_ns):
    if channel.name == "sound":
        for sound in channel._spoken.keys() - told:
            told.add(sound)
            with Path(os.environ["TOCSIN_BENCH_LOG"]).open("a", encoding="utf-8") as file:
                file.write(f"{sound[1]}\n")
