"""An event day: no sound, numbered matches, preflight, rules asked."""
