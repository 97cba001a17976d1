"""Words as sound, made beforehand by what the system speaks with, and kept."""
