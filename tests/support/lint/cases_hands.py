"""Plans about pads and loudspeakers: what hands can feel and tell apart, what must never be heard, who is reached.

Where no other source stands the limits are common practice, no source: see ``tocsin.lint.limits``.
"""

from tests.support.lint.inspected import BY_HAND, ORDERS, Case

FELT = """\
[[cue]]
id = "shake"
at = "driver.begin+10s"
rumble = "form"
screen = "prepare"
[pattern.rumble.form]
steps = [ {steps} ]{mark}
times = {times}
"""
HEARD = """\
[[cue]]
id = "ring"
at = "driver.begin+10s"
sound = "tone"
screen = "prepare"
[pattern.sound.tone]{head}
steps = [ {steps} ]{mark}
times = {times}
"""


def felt(name: str, steps: str, mark: str = "", times: int = 1) -> Case:
    """Return a case of one cue that rumbles as given."""
    return Case(name, FELT.format(steps=steps, mark=f"   #! {mark}" if mark else "", times=times))


def heard(name: str, steps: str, mark: str = "", times: int = 1, head: str = "") -> Case:
    """Return a case of one cue that sounds as given; ``head`` is a mark on the pattern's own line."""
    marks = [f"   #! {text}" if text else "" for text in (mark, head)]
    return Case(name, HEARD.format(steps=steps, mark=marks[0], head=marks[1], times=times))


def pulse(lasts: str, strong: float = 1.0) -> str:
    return f'{{ strong = {strong}, lasts = "{lasts}" }}'


def tone(hz: int, lasts: str, pause: str = "", to: int = 0) -> str:
    gliding = f", to_hz = {to}" if to else ""
    return f'{{ hz = {hz}{gliding}, lasts = "{lasts}" }}' + (f', {{ lasts = "{pause}" }}' if pause else "")


def cue(name: str, at: str, keys: str) -> str:
    return f'[[cue]]\nid = "{name}"\nat = "{at}"\n{keys}\n'


THREE = f'{tone(750, "500ms", "500ms")}, {tone(750, "500ms", "500ms")}, {tone(750, "500ms")}'
FORMS = [
    cue("one", "driver.begin+5s", 'for = ["driver"]\nrumble = "triple"\nlight = "home"'),
    cue("two", "driver.begin+10s", 'for = ["driver"]\nrumble = "long"\nlight = "home"'),
    cue("three", "driver.begin+15s", 'for = ["driver"]\nrumble = "short"\nlight = "home"'),
]
FOURTH = cue("four", "driver.begin+20s", 'for = ["driver"]\nlight = "home"\nrumble = "{}"')
MARKED = FOURTH.replace('"{}"', '"{}"         #! many_forms')
HUM = '[pattern.rumble.hum]\nsteps = [ {{ strong = 1.0, lasts = "{}" }} ]\n'
TICK = """\
[[cue]]
id = "tick"
at = "{at}"
every = "{every}"{mark}
until = "match.end"
for = ["{role}"]
rumble = "short"
sound = "tick"
"""
LONG = """\
[[cue]]
id = "hum"
at = "driver.begin+5s"
every = "{every}"
until = "driver.begin+45s"
for = ["coach"]
rumble = "hum"
screen = "step"
[pattern.rumble.hum]
steps = [ {{ strong = 0.7, lasts = "1s" }} ]
"""
ALONE = cue("call", "driver.begin+10s", "{}")

CASES = [
    # A pulse of 120 ms with a pause of 80 ms is felt as one buzz, 250 and 200 can be counted (facts from practice).
    felt("pulse_200", pulse("200ms")),
    felt("pulse_199", pulse("199ms"), "short_pulse"),
    felt("pulse_of_two_steps", f'{pulse("100ms")}, {pulse("100ms", 0.5)}'),
    felt("gap_150", f'{pulse("250ms")}, {{ lasts = "150ms" }}', times=2),
    felt("gap_149", f'{pulse("250ms")}, {{ lasts = "149ms" }}', "short_gap", times=2),
    felt("gap_at_the_end", f'{pulse("250ms")}, {{ lasts = "50ms" }}'),
    felt("gap_of_two_steps", f'{pulse("250ms")}, {{ lasts = "100ms" }}, {{ lasts = "50ms" }}, {pulse("250ms")}'),
    felt("strength_60", pulse("250ms", 0.6)),
    felt("strength_59", pulse("250ms", 0.59), "weak_pulse"),
    felt("weak_motor_counts", '{ strong = 0.2, weak = 0.6, lasts = "250ms" }'),
    felt("strength_rises", f'{pulse("250ms", 0.3)}, {pulse("250ms", 0.9)}'),
    # W3C Gamepad Extensions (from memory): an effect lasts 5 s at most.
    felt("effect_5_s", pulse("5s")),
    felt("effect_above_5_s", pulse("5001ms"), "long_effect"),
    Case("bundled_pattern_is_told_at_the_cue", cue("shake", "driver.begin+10s", 'screen = "prepare"\nrumble = "ramp"')),
    Case("vibrates_10_s", LONG.format(every="4s")),
    Case("vibrates_longer", 'format = "tocsin-plan/1"\nname = "Bells"   #! much_vibration:advice\ngame = "game.toml"\n'
         + LONG.format(every="3.9s").replace("45s", "45.1s")),
    # Three forms can be told apart under load.
    Case("three_forms", "".join(FORMS)),
    Case("four_forms", "".join(FORMS) + MARKED.format("double")),
    # 400 ms is felt as long, less as short.
    Case("long_enough_to_be_a_form",
         "".join(FORMS).replace('"long"', '"double"') + MARKED.format("hum") + HUM.format("400ms")),
    Case("too_short_to_be_a_form",
         "".join(FORMS).replace('"long"', '"double"') + FOURTH.format("hum") + HUM.format("399ms")),
    Case("a_form_again", "".join(FORMS) + FOURTH.format("hello")),
    Case("forms_of_others", "".join(FORMS) + FOURTH.format("double").replace('["driver"]', '["coach"]')),
    # Nobody holds a pad before the drivers' period: [0, 10) is autonomous, [10, 15) a pause.
    Case("rumble_in_autonomous", cue("wake", "auto.begin+9.9s", 'light = "home"\nrumble = "short"    #! hands_away')),
    Case("rumble_in_pause", cue("wake", "pause.begin", 'light = "home"\nrumble = "short"    #! hands_away')),
    Case("rumble_in_pause_to_its_end",
         cue("wake", "pause.end-1ms", 'light = "home"\nrumble = "short"    #! hands_away')),
    Case("rumble_from_driver_on", cue("wake", "driver.begin", 'light = "home"\nrumble = "short"')),
    Case("rumble_on_the_coachs_pager",
         cue("wake", "auto.begin+5s", 'light = "home"\nfor = ["coach"]\nrumble = "short"')),
    Case("rumble_in_an_open_pause",
         cue("wake", "pause.begin+2s", 'light = "home"\nrumble = "short"    #! hands_away'), BY_HAND),
    Case("press_in_autonomous",
         cue("wake", "auto.begin+5s", 'light = "home"\nscreen = "coach"\nsay = "Press now"   #! press_too_early')),
    Case("press_in_the_drivers_period",
         cue("wake", "driver.begin", 'light = "home"\nscreen = "coach"\nsay = "Press now"')),
    # A pad gives one call at most in the last 5 s: [70, 75).
    Case("ticks", TICK.format(at="match.end-2s", every="1s", mark="      #! ticking_pad", role="driver")),
    Case("ticks_once", TICK.format(at="match.end-1s", every="1s", mark="", role="driver")),
    Case("ticks_before", TICK.format(at="match.end-6s", every="3s", mark="", role="driver")),
    Case("ticks_from_5_s_on", TICK.format(at="match.end-5s", every="4.9s", mark="   #! ticking_pad", role="driver")),
    Case("ticks_from_just_before", TICK.format(at="match.end-5.001s", every="4.9s", mark="", role="driver")),
    Case("ticks_for_the_coach", TICK.format(at="match.end-3s", every="1s", mark="", role="coach")),
    # Several signals together reach a driver, not one.
    Case("rumble_alone", ALONE.format('rumble = "short"      #! rumble_alone')),
    Case("rumble_and_light", ALONE.format('rumble = "short"\nlight = "home"')),
    Case("sound_alone", ALONE.format('sound = "steady"      #! one_sense')),
    Case("a_sign_of_life", ALONE.format('rumble = "hello"\npriority = 3')),
    Case("above_a_sign_of_life", ALONE.format('rumble = "hello"       #! rumble_alone\npriority = 4')),
    Case("together_at_one_instant", cue("felt", "driver.begin+10s", 'rumble = "short"')
         + cue("seen", "driver.begin+10s", 'light = "home"')),
    Case("together_but_for_others",
         cue("felt", "driver.begin+10s", 'for = ["driver"]\nrumble = "short"   #! rumble_alone')
         + cue("seen", "driver.begin+10s", 'for = ["coach"]\nlight = "home"   #! one_sense')),
    Case("together_in_one_order_only", cue("felt", "driver.begin+10s", 'rumble = "short"   #! rumble_alone')
         + cue("seen", "driver.begin+10s", 'light = "home"\nwhen = "first"'), ORDERS),
    Case("main_call_for_both", cue("home", "driver.begin+20s", 'rumble = "triple"\nlight = "home"')
         + cue("short", "driver.begin+10s", 'rumble = "short"\nlight = "home"')),
    Case("main_call_for_one", cue("home", "driver.begin+20s", 'for = ["driver"]   #! role_left_out\n'
         'rumble = "triple"\nlight = "home"') + cue("short", "driver.begin+10s", 'rumble = "short"\nlight = "home"')),
    # ISO 7731 (from memory): energy in 500 to 2500 Hz.
    heard("hz_500", tone(500, "250ms")),
    heard("hz_499", tone(499, "250ms"), "pitch_out"),
    heard("hz_2500", tone(600, "250ms", to=2500)),
    heard("hz_2501", tone(600, "250ms", to=2501), "pitch_out"),
    # ISO 8201, ANSI S3.41: three times 0.5 s on and 0.5 s off, each within 10 %, then 1.5 s of silence.
    heard("evacuation", tone(750, "500ms", "500ms"), times=3, head="evacuation_alarm:error"),
    heard("evacuation_lower_end", tone(750, "450ms", "450ms"), times=3, head="evacuation_alarm:error"),
    heard("evacuation_upper_end", tone(750, "550ms", "550ms"), times=3, head="evacuation_alarm:error"),
    heard("too_short_for_evacuation", tone(750, "440ms", "500ms"), times=3),
    heard("too_long_for_evacuation", tone(750, "560ms", "500ms"), times=3),
    heard("gaps_too_long_for_evacuation", tone(750, "500ms", "560ms"), times=3),
    heard("two_pulses", tone(750, "500ms", "500ms"), times=2),
    heard("four_pulses", tone(750, "500ms", "500ms"), times=4),
    # A fourth pulse makes it another signal, unless the silence before it is the alarm's own: 1.5 s, within 10 %.
    heard("fourth_after_1350_ms", f'{THREE}, {{ lasts = "1350ms" }}, {tone(750, "500ms")}',
          head="evacuation_alarm:error"),
    heard("fourth_after_1349_ms", f'{THREE}, {{ lasts = "1349ms" }}, {tone(750, "500ms")}'),
    heard("evacuation_of_a_rise", f'{tone(750, "250ms")}, {tone(900, "250ms", "500ms")}', times=3,
          head="evacuation_alarm:error"),
    Case("evacuation_by_repeating", """\
[[cue]]
id = "ring"
at = "driver.begin+10s"
every = "1s"                     #! evacuation_alarm:error
until = "driver.begin+12.5s"
for = ["coach"]
screen = "step"
sound = "half"
[pattern.sound.half]
steps = [ { hz = 750, lasts = "500ms" } ]
"""),
    Case("four_by_repeating", """\
[[cue]]
id = "ring"
at = "driver.begin+10s"
every = "1s"
until = "driver.begin+13.5s"
for = ["coach"]
screen = "step"
sound = "half"
[pattern.sound.half]
steps = [ { hz = 750, lasts = "500ms" } ]
"""),
    # The quiet plan is the one that makes no sound.
    Case("quiet_by_name", 'format = "tocsin-plan/1"\nname = "Quiet 2"\ngame = "game.toml"\n'
         + cue("call", "driver.begin+10s", 'light = "home"\nsound = "steady"   #! quiet_sounds')),
    Case("event_by_name", 'format = "tocsin-plan/1"\nname = "For the event"\ngame = "game.toml"\n'
         + cue("call", "driver.begin+10s", 'light = "home"\nsound = "steady"   #! quiet_sounds')),
    Case("quiet_and_silent", 'format = "tocsin-plan/1"\nname = "Quiet 2"\ngame = "game.toml"\n'
         + cue("call", "driver.begin+10s", 'light = "home"\nscreen = "home"')),
    Case("quieter_is_no_quiet", 'format = "tocsin-plan/1"\nname = "Disquieting"\ngame = "game.toml"\n'
         + cue("call", "driver.begin+10s", 'light = "home"\nsound = "steady"')),
]
