"""Cues shown one by one."""
