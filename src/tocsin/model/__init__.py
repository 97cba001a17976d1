"""Game, plan, rig as types; no clock reading, no I/O."""
