"""The core: game, plan, rig, timeline, lifecycle. No I/O, no clock reading, time is an argument."""
