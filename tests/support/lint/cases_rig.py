"""Plans with the rig that they are for: what it lacks, what its strip can give.

Current: 20 mA a colour at full light (WS2812B datasheet). Wire: 8N1, ten bits a byte, so a frame of 6 + 3 x LEDs bytes
takes 10 / baud of a second each; the strip 30 us a LED.
"""

from tests.support.lint.inspected import RIG_HEAD, Case

PADS = '[[pad]]\nrole = "driver"\norder = 1\n[[pad]]\nrole = "operator"\norder = 2\n'
ALL = PADS + '[light]\nport = "COM3"\nmax_ma = 450\nleds = {leds}\n[screen]\n[sound]\n'
STRIP = '[screen]\n[light]\nport = "COM3"\n{}\n'
LACKING = 'format = "tocsin-rig/1"\nname = "Bells"   #! rig_lacks:advice\ndrives_robot = false\n'
FULL = """\
[[cue]]
id = "call"
at = "driver.begin+10s"
rumble = "short"
light = "tidy"
screen = "prepare"
sound = "steady"
[pattern.light.tidy]
form = "plain"
colours = ["yellow"]
level = 0.2
lasts = "2s"
"""
WHITE = """\
[[cue]]
id = "call"
at = "driver.begin+10s"
light = "full"
screen = "prepare"
[pattern.light.full]
form = "{form}"
colours = ["white"]
cycle = "2s"
lasts = "2s"
"""
NO_PAD = FULL.replace('rumble = "short"\n', "").replace('sound = "steady"\n', "")
SOLID, SWEEP = WHITE.format(form="plain"), WHITE.format(form="shuttle")


def strip(keys: str) -> str:
    return STRIP.format(keys)


CASES = [
    Case("rig_has_all", FULL, rig=ALL.format(leds=30)),
    Case("rig_lacks_pads", FULL, rig=LACKING + ALL.format(leds=30)[len(PADS):]),
    Case("rig_lacks_one_pad", FULL, rig=LACKING + ALL.format(leds=30).replace("operator", "coach")),
    Case("rig_lacks_sound", FULL, rig=LACKING + ALL.format(leds=30).replace("[sound]\n", "")),
    Case("reaches_nobody", FULL.replace('screen = "prepare"\nsound = "steady"\n', "")
         .replace("[[cue]]", "[[cue]]   #! reaches_nobody"), rig=LACKING + "[screen]\n[sound]\n"),
    Case("a_sign_of_life_may_be_missed",
         '[[cue]]\nid = "alive"\nat = "driver.begin+2s"\nrumble = "hello"\npriority = 3\n',
         rig=LACKING + "[screen]\n"),
    Case("device_of_no_package", FULL,
         rig=ALL.format(leds=30).replace('port = "COM3"', 'device = "no_rope"   #! device_not_installed')),
    Case("shaker_of_no_package", FULL,
         rig=ALL.format(leds=30).replace("order = 1", 'device = "no_belt"   #! device_not_installed')),
    # The rig's strength is multiplied with the pattern's: `short` has 0.9.
    Case("pad_strength_67", FULL, rig=ALL.format(leds=30).replace("order = 1", "order = 1\nstrength = 0.67")),
    Case("pad_strength_66", FULL,
         rig=ALL.format(leds=30).replace("order = 1", "order = 1\nstrength = 0.66   #! weak_pad")),
    # 10 white LEDs draw 610 mA, at half the brightness 309 (bytes of 127); what exceeds max_ma is dimmed, which is no
    # news as long as a tenth of the light is left.
    Case("current_within", SOLID, rig=strip("leds = 10\nbrightness = 0.5\nmax_ma = 300")),
    Case("current_above", SOLID, rig=strip("leds = 10\nbrightness = 0.5\nmax_ma = 298")),
    # 100 white LEDs draw 6000 mA and 100 while dark: with 700 a tenth is left, with 699 less.
    Case("dimmed_to_a_tenth", SOLID,
         rig=strip("leds = 100\nbaud = 1000000\nmax_ma = 700   #! more_than_usb:advice")),
    Case("dimmed_below", SOLID,
         rig=strip("leds = 100\nbaud = 1000000\nmax_ma = 699   #! strip_dimmed, more_than_usb:advice")),
    # 100 dark LEDs draw 100 mA, and a step of their white is 6000 / 255 = 23.5 mA.
    Case("lit_by_one_step", SOLID.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 100\nbaud = 1000000\nmax_ma = 124   #! strip_dimmed")),
    Case("lit_by_less", SOLID.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 100\nbaud = 1000000\nmax_ma = 123   #! never_lit")),
    Case("never_lit", SOLID.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 100\nbaud = 1000000\nmax_ma = 100   #! never_lit")),
    # A USB 2 port gives 500 mA, and the board takes 50. By whole bytes 10 white LEDs draw 10 mA and 600 / 255 a step:
    # with 452 mA (442 / 600 x 255 = 187.9) 450 by 187, with 454 (188.7) 452.4 by 188.
    Case("usb_500_ma", NO_PAD, rig=strip("leds = 10\nmax_ma = 452")),
    Case("usb_502_ma", NO_PAD, rig=strip("leds = 10\nmax_ma = 454   #! more_than_usb:advice")),
    # What the strip cannot draw is not counted: 7 LEDs draw 427 mA, 20 at a third of the light 420 (bytes of 85).
    Case("usb_few_leds", NO_PAD, rig=strip("leds = 7\nmax_ma = 2000")),
    Case("usb_more_leds", NO_PAD, rig=strip("leds = 8\nmax_ma = 2000   #! more_than_usb:advice")),
    Case("usb_dim", NO_PAD, rig=strip("leds = 20\nbrightness = 0.3334\nmax_ma = 2000")),
    # ITU-R BT.1359-1: sound that is 45 ms early is noticed. At 115200 baud 171 LEDs take 44.97 ms, 172 45.2 ms.
    Case("wire_44_ms", SOLID.replace("lasts", "level = 0.01\nlasts"), rig=strip("leds = 171")),
    Case("wire_45_ms", SOLID.replace("lasts", "level = 0.01\nlasts"), rig=strip("leds = 172   #! slow_wire")),
    Case("wire_made_up_for", SOLID.replace("lasts", "level = 0.01\nlasts"), rig=strip("leds = 172\nlatency_ms = 45")),
    Case("wire_partly_made_up_for", SOLID.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 300\nmax_ma = 450   #! strip_dimmed\nlatency_ms = 30   #! slow_wire")),
    # Ten frames a second: at 115200 baud 200 LEDs get 10.2 and 206 9.9 (wire and strip in 0.6 of the time; computed).
    Case("frames_10", SWEEP.replace("lasts", "level = 0.01\nlasts"), rig=strip("leds = 200\nlatency_ms = 40")),
    Case("frames_below_10", SWEEP.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 206   #! few_frames\nlatency_ms = 50")),
    Case("few_frames_of_what_stands", SOLID.replace("lasts", "level = 0.01\nlasts"),
         rig=strip("leds = 206\nlatency_ms = 50")),
    # Other keys and real-time priority beside a robot are mistakes already: nothing is said twice.
    Case("a_laptop_that_drives_a_robot", FULL, rig=RIG_HEAD.replace("false", "true") + ALL.format(leds=30)),
]
