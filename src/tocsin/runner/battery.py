"""What the laptop runs on, in words: a low battery dims screens and slows processors in the middle of a match."""

import psutil

LOW_PERCENT = 30


def battery_text() -> str:
    """Return e.g. ``battery 63 %``, ``mains``, ``battery 12 %: plug it in``; empty where the system does not say."""
    read = getattr(psutil, "sensors_battery", None)        # not on every system
    try:
        battery = read() if read else None
    except (OSError, RuntimeError, NotImplementedError):
        return ""
    if battery is None:
        return ""
    if battery.power_plugged:
        return "mains"
    text = f"battery {battery.percent:.0f} %"
    return f"{text}: plug it in" if battery.percent < LOW_PERCENT else text
