"""The match clock without I/O: origins, lifecycle, schedule, sync."""
