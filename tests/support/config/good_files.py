"""A game, a plan and a rig without a mistake, small and invented, for tests to break in one place at a time."""

GAME = """\
format = "tocsin-game/1"
name = "Bell Push"                        # invented
digits = "ceil"

[[period]]
id = "auto"
kind = "autonomous"
lasts = "24s"

[[period]]
id = "driver"
kind = "driver"
title = "Hands on"
lasts = "3min"
begins = "itself"

[[window]]
id = "no_contact"
begin = "driver.end-18s"
end = "driver.end"

[[variant]]
id = "north_first"
default = true

[[stake]]
id = "contact"
during = "no_contact"
title = "Contact"
points = 15
to = "opponents"
"""

PLAN = """\
format = "tocsin-plan/1"
name = "Full"
game = "game.toml"

[lead]
break_off = "4s"

[[cue]]
id = "home"
at = "no_contact.begin-break_off"
until = "no_contact.begin"
for = ["driver", "operator"]
rumble = "three"
light = "bands"
say = "Home"
late_limit = "1500ms"
priority = 9
callable = true
when = "north_first"

[[cue]]
id = "over"
at = "match.end"
sound = "two"

[pattern.rumble.three]
steps = [ { strong = 1.0, weak = 1.0, lasts = "250ms" }, { lasts = "200ms" } ]
times = 3

[pattern.light.bands]
form = "bands"
colours = ["reddish_purple", "white"]
lasts = "3s"

[pattern.sound.two]
steps = [ { hz = 750, lasts = "180ms" }, { hz = 900, to_hz = 1000, lasts = "180ms" } ]
"""

RIG = """\
format = "tocsin-rig/1"
name = "Bench"
drives_robot = false
priority = "raised"

[start]
by = "count_in"
count_in = "5s"

[keys]
start = ["page_down"]
hold = "p"
call = { home = ["h"] }
marks = { contact = ["c"] }

[[pad]]
role = "driver"
usb = "1209:0001"
strength = 1.0
latency_ms = 80
buttons = { 6 = "mark.contact" }

[light]
port = 'COM3'
leds = 30
max_ma = 400

[sound]
buffer = 512

[screen]
display = 0

[board]
beside_robot = false
port = 8737
"""
